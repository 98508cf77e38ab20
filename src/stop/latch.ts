/**
 * The stop latch, a fold: (state, input) -> state. An emergency stop has priority in every state; releasing it only
 * permits a reset, a reset only permits a new start, and neither moves anything (ISO 13850; IEC 60204-1, 9.2.5.4).
 */

/** free: nothing is latched. stopped: latched. released: the device is released. reset: a new start is permitted. */
export type LatchState = 'free' | 'stopped' | 'released' | 'reset'

export type LatchInput = 'stop' | 'release' | 'reset' | 'start'

const NEXT: Record<LatchState, Partial<Record<LatchInput, LatchState>>> = {
  free: { stop: 'stopped' },
  stopped: { stop: 'stopped', release: 'released' },
  released: { stop: 'stopped', reset: 'reset' },
  reset: { stop: 'stopped', start: 'free' },
}

/** @returns the next state, or null: the input is refused and the state stays. */
export function latch(state: LatchState, input: LatchInput): LatchState | null {
  return NEXT[state][input] ?? null
}

/** Commands move the arms only while nothing is latched. */
export function mayMove(state: LatchState): boolean {
  return state === 'free'
}
