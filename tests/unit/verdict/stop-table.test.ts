import { describe, expect, it } from 'vitest'
import type { Figure } from '../../../src/files/event.js'
import { figuresOf, type StopFigures, type StopMotion, summarise } from '../../../src/verdict/stop-table.js'
import type { Verdict } from '../../../src/verdict/verdict.js'

const figure = (place: string, name: string, value: number): Figure => ({
  place,
  name,
  value,
  unit: 'none',
  limit: null,
})
const verdict = (toStill: number | null, figures: Figure[]): Verdict =>
  ({ stop: { toStill }, watches: [{ watch: 'stopping', figures }] }) as unknown as Verdict
const stop = (phase: number, time: number | null, motion: StopMotion = 'ahead'): StopFigures => ({
  motion,
  phase,
  at: 10 * phase,
  timeToStill: time === null ? null : { value: time, place: `joint at ${phase}` },
  jointTravel: null,
  bladeTravel: null,
})

describe('figuresOf', () => {
  it('takes the joint and the arm that went farthest', () => {
    const figures = [
      figure('a', 'time to still', 0.1),
      figure('b', 'time to still', 0.2),
      figure('a', 'travel to still', 0.4),
      figure('b', 'travel to still', 0.3),
      figure('port', 'blade travel to still', 0.02),
    ]
    const measured = { motion: 'astern', phase: 0.5, at: 6, verdict: verdict(0.2, figures) } as const
    expect(figuresOf(measured)).toEqual({
      motion: 'astern',
      phase: 0.5,
      at: 6,
      timeToStill: { value: 0.2, place: 'b' },
      jointTravel: { value: 0.4, place: 'a' },
      bladeTravel: { value: 0.02, place: 'port' },
    })
  })

  it('gives no figure of a stop in which not all joints came to rest', () => {
    const figures = [figure('a', 'time to still', 0.1)]
    const measured = { motion: 'ahead', phase: 0.5, at: 6, verdict: verdict(null, figures) } as const
    expect(figuresOf(measured).timeToStill).toBeNull()
  })
})

describe('summarise', () => {
  it('gives worst with its place, mean, and mean + 3 sample standard deviations', () => {
    // Python's statistics.stdev([0.1, 0.2, 0.4, 0.3]) is 0.12909944487358055.
    const stops = [stop(0.1, 0.1), stop(0.2, 0.2), stop(0.3, 0.4), stop(0.4, 0.3), stop(0.5, null)]
    const summary = summarise('timeToStill', stops)!
    expect(summary.worst).toMatchObject({ value: 0.4, place: 'joint at 0.3', phase: 0.3, at: 3 })
    expect(summary.spreads).toEqual([
      { motion: 'ahead', n: 4, mean: expect.closeTo(0.25, 12), meanPlus3Sigma: summary.meanPlus3Sigma },
    ])
    expect(summary.meanPlus3Sigma).toBeCloseTo(0.25 + 3 * 0.12909944487358055, 12)
  })

  it('takes the worst of all motions and names the motion', () => {
    const stops = [stop(0.1, 0.1), stop(0.2, 0.2), stop(0.3, 0.25, 'pivot-to-port'), stop(0.4, 0.4, 'astern')]
    expect(summarise('timeToStill', stops)!.worst).toMatchObject({ value: 0.4, motion: 'astern', phase: 0.4 })
    expect(summarise('timeToStill', [...stops].reverse())!.worst).toMatchObject({ motion: 'astern' })
  })

  it('keeps the spreads of the motions apart and takes the greatest mean + 3 s', () => {
    // Ahead: mean 0.15, s 0.1 / sqrt 2; astern: mean 0.38, s 0.04 / sqrt 2; one pivot has no spread.
    const stops = [
      stop(0.1, 0.1),
      stop(0.2, 0.2),
      stop(0.1, 0.36, 'astern'),
      stop(0.2, 0.4, 'astern'),
      stop(0.3, 0.9, 'pivot-to-port'),
    ]
    const { meanPlus3Sigma, spreads } = summarise('timeToStill', stops)!
    expect(meanPlus3Sigma).toBeCloseTo(0.38 + (3 * 0.04) / Math.SQRT2, 12)
    expect(spreads).toMatchObject([
      { motion: 'ahead', n: 2, meanPlus3Sigma: expect.closeTo(0.15 + (3 * 0.1) / Math.SQRT2, 12) },
      { motion: 'astern', n: 2 },
      { motion: 'pivot-to-port', n: 1, mean: 0.9, meanPlus3Sigma: null },
    ])
  })

  it('of one stop knows no spread, of none nothing', () => {
    expect(summarise('timeToStill', [stop(0.1, 0.1)])).toMatchObject({
      meanPlus3Sigma: null,
      spreads: [{ n: 1 }],
    })
    expect(summarise('timeToStill', [stop(0.1, null)])).toBeNull()
    expect(summarise('bladeTravel', [stop(0.1, 0.1)])).toBeNull()
  })
})
