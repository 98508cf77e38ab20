/** The guardian's time-out holds wherever between two looks the last beat came, with timers that come late. */
import { describe, expect, it } from 'vitest'
import { Guard } from '../../../../src/stop/guardian/fold.js'
import { looksFor, TIMER_LATE } from '../../../../src/stop/guardian/looks.js'

const MS = 1e6

/** ms from the last beat to the deed, for a beat so much of a look's time before the first look after it. */
function found(timeout: number, share: number, late: number): number {
  const { every, times } = looksFor(timeout)
  const guard = new Guard(times, 0)
  guard.see({ kind: 'beat', t: 0 })
  const step = (every + late) * MS
  for (let t = share * step; t < 10 * times.timeout; t += step) {
    if (guard.see({ kind: 'look', t }).do === 'take over') return t / MS
  }
  throw new Error('it was never found')
}

// 20 ms and 1 s are the least and the most that a rig may say; looks come 5 ms apart at least.
describe.each([0.02, 0.1, 0.25, 1])('a time-out of %d s', (timeout) => {
  const phases = Array.from({ length: 200 }, (_, i) => (i + 1) / 200)

  it.each([0, TIMER_LATE])('holds with timers that are %d ms late, and is not much shorter', (late) => {
    const all = phases.map((share) => found(timeout, share, late))
    const { every } = looksFor(timeout)
    expect(Math.max(...all)).toBeLessThanOrEqual(timeout * 1000)
    // A bench process that is late for so long is not ended yet.
    expect(Math.min(...all)).toBeGreaterThan(timeout * 1000 - 2 * (every + TIMER_LATE))
  })
})
