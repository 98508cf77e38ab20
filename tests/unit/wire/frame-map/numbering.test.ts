/** Periods of a joint's feedback, with and without a counter in it. */
import { describe, expect, it } from 'vitest'
import { Numbering } from '../../../../src/wire/frame-map/numbering.js'

const NONE = Number.NaN
/** Numbers of the counter: 16, as a four-bit one has. */
const M = 16

describe('periods of feedback', () => {
  it('begin with the one that runs', () => {
    expect(new Numbering().next(7, 3, 5, M, 0)).toBe(7)
    expect(new Numbering().next(0, 0, NONE, 1, 0)).toBe(0)
  })

  it('go on by the counter when several frames come at once, also over its end', () => {
    const numbering = new Numbering()
    numbering.next(100, 0, 14, M, 0)
    // Three answers come within period 103.
    expect(numbering.next(103, 3, 15, M, 0)).toBe(101)
    expect(numbering.next(103, 2, 0, M, 0)).toBe(102)
    expect(numbering.next(103, 1, 1, M, 0)).toBe(103)
    expect(numbering.next(104, 1, 2, M, 0)).toBe(104)
  })

  it('skip those whose frames were lost', () => {
    const numbering = new Numbering()
    numbering.next(100, 0, 3, M, 0)
    expect(numbering.next(103, 3, 6, M, 0)).toBe(103)
  })

  it('go on by time without a counter, and when the counter may have gone round', () => {
    const bare = new Numbering()
    bare.next(10, 0, NONE, 1, 0)
    expect(bare.next(12, 2, NONE, 1, 0)).toBe(12)
    const round = new Numbering()
    round.next(10, 0, 4, M, 0)
    // 0 steps or 16: nobody knows.
    expect(round.next(18, 8, 4, M, 0)).toBe(18)
  })

  it('a counter that stays behind for good, as when requests were not heard, is given up after 20 frames', () => {
    const numbering = new Numbering()
    numbering.next(0, 0, 0, M, 0)
    const seen = Array.from({ length: 25 }, (_, k) =>
      numbering.next(k + 2, k + 2 - numbering.index, k + 1, M, 0),
    )
    expect(seen.slice(0, 20)).toEqual(Array.from({ length: 20 }, (_, k) => k + 1))
    expect(seen.slice(20)).toEqual([22, 23, 24, 25, 26])
  })

  it('are never more than eight off the one that runs', () => {
    const numbering = new Numbering()
    numbering.next(0, 0, 0, 256, 0)
    expect(numbering.next(9, 9, 1, 256, 0)).toBe(1)
    expect(numbering.next(11, 10, 2, 256, 0)).toBe(11)
  })

  it('count within what they may be off for good', () => {
    const numbering = new Numbering()
    numbering.next(5, 0, NONE, 1, 1)
    expect(numbering.next(5, 1, NONE, 1, 1)).toBe(6)
    expect(numbering.next(5, 1, NONE, 1, 1)).toBe(5)
  })
})
