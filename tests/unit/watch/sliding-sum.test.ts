import { describe, expect, it } from 'vitest'
import { randomStream } from '../../../src/random.js'
import { SlidingSum } from '../../../src/watch/sliding-sum.js'

describe('sliding sum', () => {
  it('is the sum over the last full steps, as counted anew from all values', () => {
    const random = randomStream(3, 'sliding')
    const sliding = new SlidingSum(1000, 10)
    const seen: { t: number; value: number }[] = []
    let t = 0
    let peak = 0
    for (let i = 0; i < 5000; i++) {
      // Now and then a pause, some longer than the whole span.
      t += i % 700 === 699 ? 1700 : i % 50 === 49 ? 130 : Math.floor(3 * random.uniform())
      const value = 1 + Math.floor(100 * random.uniform())
      if (sliding.add(value, t) && i > 0) {
        const end = Math.floor(t / 10) * 10
        const sum = seen.reduce((s, v) => (v.t >= end - 1000 && v.t < end ? s + v.value : s), 0)
        expect(sliding.sum).toBe(sum)
        peak = Math.max(peak, sum)
      }
      seen.push({ t, value })
    }
    expect(sliding.peak).toBeGreaterThanOrEqual(peak)
  })
})
