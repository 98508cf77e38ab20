import { describe, expect, it } from 'vitest'
import { clockOffset, matchFrames, type Placed } from '../../../src/record/same-frames.js'

const MS = 1e6
const OFFSET = 7000 * MS

/** Frame of an identifier with one byte; t: ms */
function frame(t: number, id: number, byte: number): Placed {
  return {
    bus: 0,
    t: t * MS,
    frame: { id, extended: false, remote: false, data: Uint8Array.of(byte) },
  }
}

const later = (frames: readonly Placed[], by: (f: Placed) => number): Placed[] =>
  frames.map((f) => ({ ...f, t: f.t + by(f) * MS }))

/** Twenty that occur once, and heartbeats that are all alike. */
const SEEN = [
  ...Array.from({ length: 20 }, (_, i) => frame(50 * i + 3, 0x18b, i)),
  ...Array.from({ length: 20 }, (_, i) => frame(50 * i, 0x70b, 5)),
].sort((a, b) => a.t - b.t)

describe('the same frames in two records', () => {
  it('finds the offset from frames that occur once, late ones or not', () => {
    const recorded = later(SEEN, ({ frame: { data } }) => (data[0] === 2 ? 400 : 1))
    const logged = SEEN.map((f) => ({ ...f, t: f.t + OFFSET }))
    expect(clockOffset(recorded, logged)).toBe(OFFSET - MS)
    expect(clockOffset(recorded, logged.slice(0, 8))).toBeNull()
  })

  it('knows frames that lay with the kernel for seconds while a run was prepared', () => {
    const recorded = later(SEEN, ({ t }) => (t < 200 * MS ? 1650 - t / MS : 0.2)).sort((a, b) => a.t - b.t)
    const logged = SEEN.map((f) => ({ ...f, t: f.t + OFFSET }))
    const matches = matchFrames(recorded, logged, OFFSET)
    expect(new Set(matches).size).toBe(SEEN.length)
    expect(matches).not.toContain(-1)
  })

  it('keeps identical frames in step when one was written down late', () => {
    // 30 ms of 50: nearer to the next one than to itself.
    const recorded = later(SEEN, ({ t, frame: { id } }) => (id === 0x70b && t === 500 * MS ? 30 : 0.1))
    const logged = SEEN.map((f) => ({ ...f, t: f.t + OFFSET }))
    const matches = matchFrames(recorded, logged, OFFSET)
    expect([...matches]).toEqual(SEEN.map((_, i) => i))
  })

  it('says of a frame that only the log has that it is none of the recorded', () => {
    const logged = SEEN.map((f) => ({ ...f, t: f.t + OFFSET }))
    const recorded = SEEN.filter((_, i) => i !== 12)
    const matches = matchFrames(recorded, logged, OFFSET)
    expect([...matches.entries()].filter(([, r]) => r < 0)).toEqual([[12, -1]])
  })
})
