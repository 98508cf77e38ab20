import { describe, expect, it } from 'vitest'
import { watching } from './transcript.js'

const S = 1e9
const place = (t: number, x: number, surge: number, heading = 0) =>
  ({ kind: 'craft', t: t * S, x, y: 0, heading, surge, sway: 0, yaw: 0.01 }) as const

describe('craft watch', () => {
  it('is not named where no craft was afloat', () => {
    const { watch } = watching('craft')
    watch.close()
    expect(watch.seen).toBe(false)
    expect(watch.figures()).toEqual([])
  })

  it('gives speed at the end, way and turn of the scenario, and finds nothing', () => {
    const { watch, findings } = watching('craft')
    watch.see(place(0, -3, 9))
    watch.see({ kind: 'stage', t: S, stage: 'play' })
    for (let t = 1; t <= 31; t++) watch.see(place(t, t / 10, t <= 20 ? 0.1 : 0.3, -t / 100))
    watch.see(place(31.5, 3.2, -0.5, -0.315))
    watch.see({ kind: 'stage', t: 32 * S, stage: 'park' })
    watch.see(place(33, 99, 9))
    watch.close()
    expect(findings).toEqual([])
    const figures = Object.fromEntries(watch.figures().map(({ name, value }) => [name, value]))
    // Of the last 10 s: ten looks at 0.3 m/s, from 22 s on, and one at -0.5 m/s.
    expect(figures['surge, mean of the end']).toBeCloseTo((10 * 0.3 - 0.5) / 11, 12)
    expect(figures['surge, fastest']).toBe(-0.5)
    expect(figures['yaw rate, mean of the end']).toBeCloseTo(0.01, 12)
    expect(figures['way made good']).toBeCloseTo(3.2 - 0.1, 12)
    expect(figures['turn to port']).toBeCloseTo(-0.315 + 0.01, 12)
  })
})
