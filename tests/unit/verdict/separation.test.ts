/**
 * ISO 13855:2010, detection capability up to 40 mm: rows worked out by hand from the published formulae, S = K T + 8 (d - 14)
 * with K = 2000 mm/s, above 500 mm with 1600 mm/s and at least 500 mm, never below 100 mm.
 */
import { describe, expect, it } from 'vitest'
import { OverallStop, separation, showMillimetres } from '../../../src/verdict/separation.js'
import type { Summary } from '../../../src/verdict/stop-table.js'
import type { StopFacts } from '../../../src/verdict/verdict.js'

const entered = (time: number): OverallStop => OverallStop.entered({ time, entered: 'for a test' })

describe('separation', () => {
  it.each([
    [0.32, 14, 512, 1.6, null],
    [0.165, 14, 330, 2, null],
    [0.26, 14, 500, 1.6, '500 mm'],
    [0.3, 30, 608, 1.6, null],
    // On the borders: 2000 x .25 is 500 and not more; .04 s is less than 100 mm; what is below 14 mm adds nothing.
    [0.25, 14, 500, 2, null],
    [0.04, 14, 100, 2, '100 mm'],
    [0.05, 14, 100, 2, null],
    [0.165, 5, 330, 2, null],
    [0.1, 40, 408, 2, null],
  ] as const)('T = %d s, d = %d mm: %d mm', (time, detection, millimetres, speed, least) => {
    const found = separation(entered(time), detection / 1000)
    expect(1000 * found.distance).toBeCloseTo(millimetres, 6)
    expect(found).toMatchObject({ edition: 'ISO 13855:2010', speed, least })
  })

  it.each([0, -0.01, 0.0401, Number.NaN])('refuses a detection capability of %d m', (detection) => {
    expect(() => separation(entered(0.3), detection)).toThrow(/more than 0 mm and at most 40 mm/)
  })

  it.each([0, -1, Number.NaN, Number.POSITIVE_INFINITY])(
    'refuses an overall stopping time of %d s',
    (time) => {
      expect(() => separation(entered(time), 0.014)).toThrow(/overall stopping time/)
    },
  )

  it('is told in whole millimetres, rounded up', () => {
    expect(showMillimetres(0.512)).toBe('512 mm')
    expect(showMillimetres(0.5121)).toBe('513 mm')
  })

  it('knows where the time comes from: a person, or the guided test of the hard-wired stop', () => {
    expect(OverallStop.entered({ time: 0.3, entered: 'who, when, how' })).toMatchObject({
      origin: 'entered',
      source: 'who, when, how',
    })
    const test = { stop: 'hard-wired', arms: 'real', overall: 0.3, confirmed: 'who, when' } as const
    expect(OverallStop.measured(test)).toMatchObject({ origin: 'measured', time: 0.3 })
  })

  it('of a time that is stated and one from the guided test the longer one counts', () => {
    const stated = (time: number) => ({ time, entered: 'stated' })
    const test = { stop: 'hard-wired', arms: 'real', overall: 0.3, confirmed: 'test' } as const
    expect(OverallStop.of(null, null)).toBeNull()
    expect(OverallStop.of(stated(0.2), null)).toMatchObject({
      time: 0.2,
      origin: 'entered',
      source: 'stated',
    })
    expect(OverallStop.of(null, test)).toMatchObject({ time: 0.3, origin: 'measured', source: 'test' })
    expect(OverallStop.of(stated(0.2), test)).toMatchObject({ time: 0.3, origin: 'measured' })
    expect(OverallStop.of(stated(0.4), test)).toMatchObject({ time: 0.4, origin: 'entered' })
    expect(OverallStop.of(stated(0.3), test)).toMatchObject({ time: 0.3, origin: 'measured' })
  })

  it('takes neither a stop by bus nor a table of simulated stops: the types forbid it', () => {
    const byBus = { toStill: 0.1 } as StopFacts
    const summary = { meanPlus3Sigma: 0.1 } as Summary
    const attempts = (): void => {
      // @ts-expect-error a stop by bus
      separation(byBus, 0.014)
      // @ts-expect-error a time is no overall stopping time
      separation(0.1, 0.014)
      // @ts-expect-error a stop by bus
      OverallStop.measured(byBus)
      // @ts-expect-error a table of simulated stops
      OverallStop.measured(summary)
      // @ts-expect-error a test on simulated arms
      OverallStop.measured({ stop: 'hard-wired', arms: 'simulated', overall: 0.1, confirmed: '' })
      // @ts-expect-error nobody makes one by hand
      new OverallStop(0.1, 'measured', '')
      // @ts-expect-error one that looks like it is none
      separation({ time: 0.1, origin: 'measured', source: '' }, 0.014)
    }
    // Never called: that it compiles is the test (npm run types).
    expect(attempts).toBeTypeOf('function')
  })
})
