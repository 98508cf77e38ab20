import { describe, expect, it } from 'vitest'
import { Encoder } from '../../../src/plant/encoder.js'
import { randomStream } from '../../../src/random.js'

const encoder = (truth = {}, noise = 0) =>
  new Encoder(
    { countsPerRadian: 1000, sign: -1, zero: 50, start: 0, ...truth },
    noise,
    randomStream(1, 'plant test'),
  )

describe('encoder', () => {
  it('counts by the truth, and takes targets by it', () => {
    expect(encoder().read(0.2)).toBe(-150)
    expect(encoder().angle(-150)).toBeCloseTo(0.2, 12)
  })
  it('rounds to whole counts', () => {
    expect(encoder().read(0.2004)).toBe(-150)
    expect(encoder().read(0.2006)).toBe(-151)
  })
  it('wraps into a signed 32-bit integer', () => {
    expect(encoder({ sign: 1, zero: 2 ** 31 - 1 }).read(0.001)).toBe(-(2 ** 31))
  })
  it('frozen, it repeats itself, noise and all, until it is let go', () => {
    const e = encoder({}, 5)
    e.freeze(0.2)
    const held = e.read(0.2)
    expect(Array.from({ length: 20 }, (_, i) => e.read(i))).toEqual(Array(20).fill(held))
    e.freeze(null)
    expect(e.read(3)).not.toBe(held)
  })
})
