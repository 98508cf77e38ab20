import { describe, expect, it } from 'vitest'
import type { Figure } from '../../../src/files/event.js'
import { figuresOf, type StopFigures, summarise } from '../../../src/verdict/stop-table.js'
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
const stop = (phase: number, time: number | null): StopFigures => ({
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
    expect(figuresOf({ phase: 0.5, at: 6, verdict: verdict(0.2, figures) })).toEqual({
      phase: 0.5,
      at: 6,
      timeToStill: { value: 0.2, place: 'b' },
      jointTravel: { value: 0.4, place: 'a' },
      bladeTravel: { value: 0.02, place: 'port' },
    })
  })

  it('gives no figure of a stop in which not all joints came to rest', () => {
    const figures = [figure('a', 'time to still', 0.1)]
    expect(figuresOf({ phase: 0.5, at: 6, verdict: verdict(null, figures) }).timeToStill).toBeNull()
  })
})

describe('summarise', () => {
  it('gives worst with its place, mean, and mean + 3 sample standard deviations', () => {
    // Python's statistics.stdev([0.1, 0.2, 0.4, 0.3]) is 0.12909944487358055.
    const stops = [stop(0.1, 0.1), stop(0.2, 0.2), stop(0.3, 0.4), stop(0.4, 0.3), stop(0.5, null)]
    const summary = summarise('timeToStill', stops)!
    expect(summary).toMatchObject({ n: 4, worst: { value: 0.4, place: 'joint at 0.3', phase: 0.3, at: 3 } })
    expect(summary.mean).toBeCloseTo(0.25, 12)
    expect(summary.meanPlus3Sigma).toBeCloseTo(0.25 + 3 * 0.12909944487358055, 12)
  })

  it('of one stop knows no spread, of none nothing', () => {
    expect(summarise('timeToStill', [stop(0.1, 0.1)])).toMatchObject({ n: 1, meanPlus3Sigma: null })
    expect(summarise('timeToStill', [stop(0.1, null)])).toBeNull()
    expect(summarise('bladeTravel', [stop(0.1, 0.1)])).toBeNull()
  })
})
