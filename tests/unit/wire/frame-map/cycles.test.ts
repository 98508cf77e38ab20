/** Cycles counted where nothing marks them but setpoints. */
import { describe, expect, it } from 'vitest'
import { Cycles } from '../../../../src/wire/frame-map/cycles.js'

const MS = 1e6

describe('cycles without SYNC', () => {
  it('are counted by setpoints, feedback with them', () => {
    const cycles = new Cycles(0.005, 1)
    expect(cycles.feedback(0, 1 * MS)).toBe(-1)
    const seen: number[][] = []
    for (let k = 0; k < 4; k++)
      seen.push([cycles.begin((10 + 5 * k) * MS), cycles.feedback(0, (12 + 5 * k) * MS)])
    expect(seen).toEqual([
      [0, 0],
      [1, 1],
      [2, 2],
      [3, 3],
    ])
  })

  it('go on by time while no setpoints flow, and with setpoints after', () => {
    const cycles = new Cycles(0.005, 1)
    cycles.begin(0)
    const pause = [2, 7, 12, 17, 22, 27].map((t) => cycles.feedback(0, t * MS))
    expect(pause).toEqual([0, 1, 2, 3, 4, 5])
    expect(cycles.begin(30 * MS)).toBe(6)
    expect(cycles.feedback(0, 32 * MS)).toBe(6)
  })

  it('a setpoint late by less than a pause is the next all the same', () => {
    const cycles = new Cycles(0.005, 1)
    expect([0, 5, 13, 15, 20].map((t) => cycles.begin(t * MS))).toEqual([0, 1, 2, 3, 4])
  })

  it('feedback that jitters about the beginning of a cycle is neither lost nor doubled', () => {
    const cycles = new Cycles(0.005, 1)
    const seen: number[] = []
    for (let k = 0; k < 40; k++) {
      const early = k % 2 === 0 ? -0.4 : 0.4
      const feedback = 5 * k + early
      // The frame before the setpoint or after it, as they come.
      if (early < 0 && k > 0) seen.push(cycles.feedback(0, feedback * MS))
      cycles.begin(5 * k * MS)
      if (early > 0) seen.push(cycles.feedback(0, feedback * MS))
    }
    expect(seen.slice(1).map((n, i) => n - seen[i]!)).toEqual(new Array(seen.length - 1).fill(1))
  })

  it('a frame that is lost is a gap, one that comes twice is doubled', () => {
    const cycles = new Cycles(0.005, 1)
    const seen: number[] = []
    for (let k = 0; k < 8; k++) {
      cycles.begin(5 * k * MS)
      if (k !== 3) seen.push(cycles.feedback(0, (5 * k + 2) * MS))
      if (k === 5) seen.push(cycles.feedback(0, (5 * k + 2.2) * MS))
    }
    expect(seen).toEqual([0, 1, 2, 4, 5, 5, 6, 7])
  })

  it('an arm whose clock is slow loses one in a beat, and is never more than a cycle off', () => {
    const cycles = new Cycles(0.005, 1)
    let last = -1
    let lost = 0
    for (let k = 0, next = 1; k < 4000; k++) {
      cycles.begin(5 * k * MS)
      // 5.005 ms instead of 5 ms: 4 frames fewer in 4,000 cycles.
      for (; next < 5 * (k + 1); next += 5.005) {
        const n = cycles.feedback(0, next * MS)
        expect(Math.abs(n - k)).toBeLessThanOrEqual(1)
        lost += Math.max(0, n - last - 1)
        last = n
      }
    }
    expect(lost).toBeGreaterThanOrEqual(3)
    expect(lost).toBeLessThanOrEqual(5)
  })

  it('a frame that is late by up to three quarters of a period is neither lost nor doubled', () => {
    const cycles = new Cycles(0.005, 1)
    const seen: number[] = []
    for (let k = 0; k < 40; k++) {
      cycles.begin(5 * k * MS)
      const late = [10, 20, 30].includes(k) ? 3.6 : 0
      seen.push(cycles.feedback(0, (5 * k + 1 + late) * MS))
    }
    expect(seen).toEqual(Array.from({ length: 40 }, (_, k) => k))
  })

  it('frames that were held up together have a period each by their counter', () => {
    const frames = Array.from({ length: 40 }, (_, k) => ({
      k,
      t: k === 20 || k === 21 ? 111 + 0.1 * (k - 20) : 5 * k + 1.3,
    }))
    const acts = [
      ...frames.map(({ k }) => ({ t: 5 * k, of: (c: Cycles) => void c.begin(5 * k * MS) })),
      ...frames.map(({ k, t }) => ({ t, of: (c: Cycles) => seen.push(c.feedback(0, t * MS, k % 16, 16)) })),
    ].sort((a, b) => a.t - b.t)
    const seen: number[] = []
    const cycles = new Cycles(0.005, 1)
    for (const { of } of acts) of(cycles)
    expect(seen).toEqual(Array.from({ length: 40 }, (_, k) => k))
  })
})
