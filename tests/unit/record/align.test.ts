import { describe, expect, it } from 'vitest'
import { randomStream } from '../../../src/random.js'
import { align } from '../../../src/record/align.js'

const MS = 1e6
const at = (...ms: number[]): Float64Array => Float64Array.from(ms, (t) => t * MS)
const APART = 500 * MS

/** All ways, tried one after the other: pairs, then time between them. */
function best(a: Float64Array, b: Float64Array, apart: number): [pairs: number, time: number] {
  const better = (x: [number, number], y: [number, number]): [number, number] =>
    x[0] > y[0] || (x[0] === y[0] && x[1] <= y[1]) ? x : y
  const from = (i: number, j: number): [number, number] => {
    if (i === a.length || j === b.length) return [0, 0]
    const skip = better(from(i + 1, j), from(i, j + 1))
    const time = Math.abs(a[i]! - b[j]!)
    if (time > apart) return skip
    const [n, t] = from(i + 1, j + 1)
    return better([n + 1, t + time], skip)
  }
  return from(0, 0)
}

describe('two records in line', () => {
  it('keeps what lags by more than half a period in step', () => {
    // The first was written down late, the others at once: the second is nearer to it than its own.
    expect([...align(at(50, 41, 80).sort(), at(0, 40, 80), APART)]).toEqual([0, 1, 2])
    // One more at the end, so that numbers do not tell.
    expect([...align(at(41, 50, 80), at(0, 40, 80, 900), APART)]).toEqual([0, 1, 2, -1])
  })

  it('finds which one is missing', () => {
    expect([...align(at(0, 40, 120, 160), at(1, 41, 81, 121, 161), APART)]).toEqual([0, 1, -1, 2, 3])
    expect([...align(at(0, 40, 80, 120, 160), at(1, 41, 121, 161), APART)]).toEqual([0, 1, 3, 4])
  })

  it('pairs nothing that is too far apart', () => {
    expect([...align(at(0, 2000), at(700, 2600), APART)]).toEqual([-1, -1])
    expect([...align(at(), at(5), APART)]).toEqual([-1])
    expect([...align(at(5), at(), APART)]).toEqual([])
  })

  it('is as good as the best of all ways, in order', () => {
    const random = randomStream(7, 'align')
    const times = (n: number): Float64Array =>
      Float64Array.from({ length: n }, () => Math.floor(random.uniform() * 60) * MS).sort()
    for (let round = 0; round < 300; round++) {
      const a = times(Math.floor(random.uniform() * 7))
      const b = times(Math.floor(random.uniform() * 7))
      const apart = Math.floor(random.uniform() * 30) * MS
      const pairs = align(a, b, apart)
      const own = [...pairs.entries()].filter(([, i]) => i >= 0)
      const time = own.reduce((sum, [j, i]) => sum + Math.abs(a[i]! - b[j]!), 0)
      expect([own.length, time], `${a} and ${b} within ${apart}`).toEqual(best(a, b, apart))
      expect(own.every(([j, i]) => Math.abs(a[i]! - b[j]!) <= apart)).toBe(true)
      expect(own.map(([, i]) => i)).toEqual([...new Set(own.map(([, i]) => i))].sort((x, y) => x - y))
    }
  })

  it('takes a long record with few neighbours each', () => {
    const a = Float64Array.from({ length: 60_000 }, (_, i) => i * MS)
    // One is missing in the middle, and all lag by 0.4 ms.
    const b = a.filter((_, i) => i !== 30_000).map((t) => t + 0.4 * MS)
    const pairs = align(a, b, APART)
    expect(pairs[29_990]).toBe(29_990)
    expect(pairs[30_010]).toBe(30_011)
    expect(pairs.filter((i) => i < 0)).toHaveLength(0)
  })
})
