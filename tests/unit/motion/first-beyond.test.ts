import { describe, expect, it } from 'vitest'
import { firstBeyond } from '../../../src/motion/first-beyond.js'

describe('the first x beyond 1', () => {
  it('is found where it is, whatever comes after it', () => {
    expect(firstBeyond((x) => x * x, 0.3, 10)).toBeCloseTo(1, 9)
    // Beyond 1 between 0.5 and 1.5, and again from 3 on.
    expect(firstBeyond((x) => ((x > 0.5 && x < 1.5) || x > 3 ? 2 : 0), 0.4, 10)).toBeCloseTo(0.5, 9)
    expect(firstBeyond((x) => x, 0.3, 1.0001)).toBeCloseTo(1, 9)
  })

  it('is 0 when it is beyond from the beginning, and nowhere when it never is', () => {
    expect(firstBeyond((x) => 1.1 - x, 0.3, 10)).toBe(0)
    expect(firstBeyond((x) => x / 10, 0.3, 10)).toBe(Number.POSITIVE_INFINITY)
    expect(firstBeyond((x) => x, 0.3, 0.9)).toBe(Number.POSITIVE_INFINITY)
  })
})
