/** The bound on a failure rate, beside values worked out elsewhere. */
import { expect, it } from 'vitest'
import { needs } from '../setup/needs.js'
import { python } from '../setup/python.js'
import { failureRateBound } from './statistics.js'

it.each([
  [10, 0.26],
  [59, 0.05],
  [299, 0.01],
  [1000, 0.003],
])('no failure in %i runs: %f', (runs, rate) => {
  // 1 - 0.05^(1/n); the rounded values are those of common tables of the rule of three.
  expect(failureRateBound(0, runs)).toBeCloseTo(1 - 0.05 ** (1 / runs), 9)
  expect(failureRateBound(0, runs)).toBeCloseTo(rate, 2)
})

it.skipIf(!needs('python3-scipy'))(
  'with failures: scipy.stats.beta, the quantile that Clopper and Pearson name',
  () => {
    const cases = [
      [0, 40],
      [1, 40],
      [3, 1000],
      [20, 30],
    ]
    const script = `
import json, sys
from scipy.stats import beta
json.dump([beta.ppf(0.95, k + 1, n - k) for k, n in json.load(sys.stdin)], sys.stdout)`
    const expected = python<number[]>(script, cases)
    cases.forEach(([k, n], i) => {
      expect(failureRateBound(k!, n!)).toBeCloseTo(expected[i]!, 9)
    })
  },
)

it('says nothing when all failed, or none ran', () => {
  expect(failureRateBound(5, 5)).toBe(1)
  expect(failureRateBound(0, 0)).toBe(1)
})
