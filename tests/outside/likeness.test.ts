/** What feedback is like, beside numpy; leaps of words that are cut off or misread, beside Python's struct. */
import { describe, expect, it } from 'vitest'
import { randomStream } from '../../src/random.js'
import { powerOfTwo, wholeTurns } from '../../src/watch/counts-jump.js'
import { lineFit } from '../../src/watch/line-fit.js'
import { RunningLine } from '../../src/watch/running-line.js'
import { needs } from '../setup/needs.js'
import { python } from '../setup/python.js'

const random = randomStream(5, 'likeness')
/** A stroke-like way, its feedback by scale, offset, delay and noise. */
const cases = [
  { scale: 1, offset: 0, late: 0 },
  { scale: -1, offset: 0.2, late: 2 },
  { scale: 57.29578, offset: -3, late: 5 },
  { scale: 0.01745329, offset: 1000, late: 0 },
].map(({ scale, offset, late }) => {
  const way = (k: number): number => 0.4 * Math.sin(0.02 * k) + 0.1 * Math.cos(0.07 * k)
  return {
    x: Float64Array.from({ length: 256 }, (_, k) => way(k)),
    y: Float64Array.from({ length: 256 }, (_, k) => scale * way(k - late) + offset + 1e-4 * random.normal()),
    late,
  }
})

describe.skipIf(!needs('python3-numpy'))('straight lines', () => {
  it('are those of numpy.polyfit, and so are the greatest residual and the slope of a whole run', () => {
    const script = `
import json, sys, numpy
out = []
for c in json.load(sys.stdin):
    n = len(c['x']) - c['late']
    x, y = numpy.array(c['x'][:n]), numpy.array(c['y'][c['late']:])
    a, b = numpy.polyfit(x, y, 1)
    out.append([a, b, numpy.abs(y - a * x - b).max(), numpy.ptp(y) / numpy.ptp(x), (y - x).mean()])
json.dump(out, sys.stdout)`
    const theirs = python<number[][]>(script, cases)
    cases.forEach(({ x, y, late }, i) => {
      const [slope, offset, worst, ratio, apart] = theirs[i]!
      const fit = lineFit(x, y, late)
      // numpy's normal equations are scaled, ours are about the first pair: eight digits are left where the offset is 1000.
      expect(fit.slope).toBeCloseTo(slope!, 8)
      expect(fit.offset).toBeCloseTo(offset!, 7)
      expect(fit.worst).toBeCloseTo(worst!, 7)
      const line = new RunningLine(1)
      for (let k = late; k < y.length; k++) line.put(0, x[k - late]!, y[k]!)
      expect(line.slope(0)).toBeCloseTo(slope!, 8)
      expect(Math.abs(line.ratio(0))).toBeCloseTo(ratio!, 8)
      expect(Math.sign(line.ratio(0))).toBe(Math.sign(slope!))
      expect(line.apart(0)).toBeCloseTo(apart!, 8)
    })
  })
})

describe.skipIf(!needs('python3'))('words of counts, packed and misread by struct', () => {
  const script = `
import json, struct, sys
def word(v, size, signed):
    raw = struct.pack('<q', v)[:size]
    raw += (b'\\xff' if signed and raw[-1] & 0x80 else b'\\x00') * (8 - size)
    return struct.unpack('<q', raw)[0]
json.dump([word(v, size, signed) - v for v, size, signed in json.load(sys.stdin)], sys.stdout)`

  it('cut off to 16, 24 and 32 bits, or taken for signed or unsigned: the leap is named by its power of two', () => {
    const jobs = ([2, 3, 4] as const).flatMap((size) =>
      [true, false].flatMap((signed) => [
        // Beyond the range of a signed word on either side, and below zero.
        [2 ** (8 * size - 1) + 1234, size, signed] as const,
        [-(2 ** (8 * size - 1)) - 77, size, signed] as const,
        [-5000, size, signed] as const,
      ]),
    )
    const leaps = python<number[]>(script, jobs)
    let named = 0
    jobs.forEach(([value, size, signed], i) => {
      const leap = leaps[i]!
      if (leap === 0) return
      named++
      const power = powerOfTwo(leap, 300)
      expect(power, `${value} as a word of ${size} bytes, signed ${signed}`).toBe(`2^${8 * size} counts`)
    })
    expect(named).toBeGreaterThan(10)
  })

  it.each([2 ** 12, 2 ** 20])('sizes by chance up to %i are seldom named: one in eight at most', (most) => {
    let named = 0
    for (let i = 0; i < 2000; i++) if (powerOfTwo(Math.round(random.uniform() * most), 300) !== null) named++
    expect(named / 2000).toBeLessThan(1 / 8)
  })

  it('whole turns', () => {
    expect(wholeTurns(2 * Math.PI + 0.01, 0.02)).toBe(1)
    expect(wholeTurns(-6 * Math.PI, 0.02)).toBe(-3)
    expect(wholeTurns(3, 0.02)).toBe(0)
    expect(wholeTurns(0.001, 0.02)).toBe(0)
  })
})
