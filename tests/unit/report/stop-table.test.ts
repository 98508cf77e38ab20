import { describe, expect, it } from 'vitest'
import { stopTable } from '../../../src/report/stop-table.js'
import { type StopFigures, type StopMotion, summarise } from '../../../src/verdict/stop-table.js'

const stop = (motion: StopMotion, time: number | null): StopFigures => ({
  ...{ motion, phase: 0.25, at: 6, jointTravel: null, bladeTravel: null },
  timeToStill: time === null ? null : { value: time, place: 'starboard.feather' },
})

const table = (stops: readonly StopFigures[]): string =>
  stopTable(
    {
      ...{ rig: 'a rig', category: 1, motions: ['ahead', 'pivot-to-starboard'], phases: 2 },
      speeds: [
        { ...{ share: 1, speed: 0.5, stops, notPassed: [] }, summaries: [summarise('timeToStill', stops)!] },
      ],
    },
    80,
  )

describe('the table of stops', () => {
  it('names the motion that has the worst', () => {
    const text = table([stop('ahead', 0.1), stop('pivot-to-starboard', 0.3)])
    expect(text).toMatch(/^100 % +time to still 300 ms +to starboard +0\.250 starboard\.feather /m)
    expect(text).not.toContain('stops give it')
    for (const line of text.split('\n')) expect(line.length).toBeLessThanOrEqual(80)
  })

  it('says when not every stop gave a figure', () => {
    const text = table([stop('ahead', 0.1), stop('pivot-to-starboard', null), stop('ahead', 0.2)])
    expect(text).toMatch(/time to still: only 2 of 3 stops give it/)
  })
})
