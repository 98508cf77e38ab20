/** Singular values against numpy (Debian's python3-numpy, LAPACK underneath), and against matrices whose values are known. */
import { describe, expect, it } from 'vitest'
import { singularValues } from '../../src/motion/singular-values.js'
import { randomStream } from '../../src/random.js'
import { needs } from '../setup/needs.js'
import { python } from '../setup/python.js'

const NUMPY = `
import json, sys, numpy as np
job = json.load(sys.stdin)
json.dump([np.linalg.svd(np.array(a).reshape(m, n), compute_uv=False).tolist() for a, m, n in job], sys.stdout)
`

function valuesOf(a: readonly number[], m: number, n: number): number[] {
  const out = new Float64Array(m)
  singularValues(Float64Array.from(a), m, n, out)
  return [...out]
}

describe.skipIf(!needs('python3-numpy'))('against numpy', () => {
  const random = randomStream(6, 'matrices')
  const job = Array.from({ length: 600 }, (_, i) => {
    const m = 1 + (i % 6)
    const n = m + (i % 3)
    const a = Array.from({ length: m * n }, () => random.normal())
    // Every third one is nearly singular: its last row is almost the sum of the others.
    if (i % 3 === 2 && m > 1)
      for (let k = 0; k < n; k++) {
        let sum = 1e-7 * random.normal()
        for (let r = 0; r < m - 1; r++) sum += a[r * n + k]!
        a[(m - 1) * n + k] = sum
      }
    return [a, m, n] as const
  })
  const expected = python<number[][]>(NUMPY, job)

  it('600 matrices of one to six rows, also near to singular ones', () => {
    let small = 0
    job.forEach(([a, m, n], i) => {
      const found = valuesOf(a, m, n)
      found.forEach((s, k) => {
        // LAPACK's own error is a few roundings of the greatest value.
        expect(Math.abs(s - expected[i]![k]!)).toBeLessThan(1e-14 * 6 * expected[i]![0]!)
      })
      if (found.at(-1)! < 1e-6) small++
    })
    expect(small).toBeGreaterThan(100)
  })
})

describe('known values', () => {
  it('of a diagonal matrix they are its entries without sign, the greatest first', () => {
    expect(valuesOf([2, 0, 0, 0, -5, 0, 0, 0, 1e-9], 3, 3)).toEqual([5, 2, 1e-9])
  })

  it('of a singular matrix the last is zero', () => {
    const [first, second] = valuesOf([1, 2, 2, 4], 2, 2)
    expect(first).toBeCloseTo(5, 14)
    expect(second).toBeLessThan(1e-15)
  })
})
