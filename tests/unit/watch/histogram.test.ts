import { describe, expect, it } from 'vitest'
import { randomStream } from '../../../src/random.js'
import { HISTOGRAM_RESOLUTION, Histogram } from '../../../src/watch/histogram.js'

/** Nearest-rank quantile of all samples, by sorting: the definition. */
function sortedQuantile(samples: readonly number[], q: number): number {
  const sorted = samples.toSorted((a, b) => a - b)
  return sorted[Math.max(1, Math.ceil(q * sorted.length)) - 1]!
}

describe('histogram', () => {
  it('states a resolution of 0.4 %', () => {
    expect(HISTOGRAM_RESOLUTION).toBeCloseTo(0.0039, 4)
  })

  it.each(['uniform', 'exponential', 'over twelve octaves'])('agrees with sorted samples, %s', (shape) => {
    const random = randomStream(7, shape)
    const histogram = new Histogram()
    const samples = Array.from({ length: 20_000 }, () => {
      const u = random.uniform()
      if (shape === 'uniform') return u
      if (shape === 'exponential') return -0.01 * Math.log(1 - u)
      return 1e-3 * 2 ** (12 * u)
    })
    for (const s of samples) histogram.add(s)
    for (const q of [0, 0.001, 0.25, 0.5, 0.9, 0.99, 0.999, 1]) {
      const exact = sortedQuantile(samples, q)
      expect(Math.abs(histogram.quantile(q) - exact)).toBeLessThanOrEqual(HISTOGRAM_RESOLUTION * exact)
    }
    expect(histogram.max).toBe(Math.max(...samples))
    const squares = samples.reduce((sum, s) => sum + s * s, 0)
    expect(histogram.rms).toBeCloseTo(Math.sqrt(squares / samples.length), 12)
  })

  it('keeps zero, tiny and huge samples, and refuses NaN', () => {
    const histogram = new Histogram()
    expect(histogram.quantile(0.5)).toBe(0)
    for (const s of [0, 1e-12, 1e9, Number.NaN]) histogram.add(s)
    expect(histogram.count).toBe(3)
    expect(histogram.quantile(0.1)).toBe(0)
    expect(histogram.quantile(0.6)).toBeLessThan(1e-7)
    expect(histogram.max).toBe(1e9)
  })

  it('never says more than the greatest or less than the least sample', () => {
    const histogram = new Histogram()
    histogram.add(0.7001)
    expect(histogram.quantile(0.01)).toBe(0.7001)
    expect(histogram.quantile(1)).toBe(0.7001)
  })
})
