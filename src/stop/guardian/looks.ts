/** How often the guardian looks at the clock, so that its time-out holds with its own timers' lateness in it. */
import type { GuardTimes } from './fold.js'

/** Looks at the clock in one time-out, and ms between two of them at least. */
const LOOKS = 20
const LEAST = 5
/** ms by which a timer of the platform comes late on a machine that has nothing else to do. */
export const TIMER_LATE = 1.2
/** s, longest time before the first finished tick. */
const FIRST_BEAT = 60

/**
 * @param timeout of the rig's guardian, s
 * @returns `every`: what its timer is set to, ms; `times`: for its `Guard`
 */
export function looksFor(timeout: number): { every: number; times: GuardTimes } {
  const every = Math.max(LEAST, (timeout * 1000) / LOOKS)
  return {
    every,
    times: { timeout: timeout * 1e9, look: (every + TIMER_LATE) * 1e6, firstBeat: FIRST_BEAT * 1e9 },
  }
}
