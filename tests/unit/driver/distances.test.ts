/** How near both arms come to each other on steady strokes, however the sides are coupled: against a look at every pair of places that they are in at once. */
import { describe, expect, it } from 'vitest'
import { StrokeDistances, type Stroking } from '../../../src/driver/envelope/distances.js'
import { SideLimits } from '../../../src/driver/envelope/side-limits.js'
import { STEPS } from '../../../src/driver/envelope/stroke-poses.js'
import type { StrokeSettings } from '../../../src/files/rig.js'
import { ClearanceSweep } from '../../../src/motion/clearance/sweep.js'
import { DEMO } from './play.js'

/** All pairs but that of the blades: bases stand still, and would be the nearest always. */
const bodies = DEMO.arms.flatMap(({ name, joints }) => [
  ...joints.map((j) => DEMO.joints[j]!.name),
  ...['base', 'shaft', 'blade'].map((part) => `${name}.${part}`),
])
const leftOut = bodies.flatMap((a, i) =>
  bodies.slice(i + 1).flatMap((b) => (a.endsWith('.blade') && b.endsWith('.blade') ? [] : [[a, b] as const])),
)
/** Nothing to come near to but each other; a warning so far out that all is looked at to a millimetre. */
const clearance = { ...DEMO.clearance!, keepOut: [], leftOut, warn: 3 }
const AHEAD: Stroking = { side: 'port', way: 'ahead', reach: 1 }
const GRID = 12

/** @param reach of the starboard side: shortened, or both would pass each other at the ends of their strokes whichever way they go */
function both(sides: StrokeSettings['sides'], way: Stroking['way'], reach = 1) {
  const rig = { ...DEMO, clearance, stroke: { ...DEMO.stroke, sides } }
  const limits = new SideLimits(rig)
  const other: Stroking = { side: 'starboard', way, reach }
  const poses = [AHEAD, other].map((s) => limits.stroke(s.side, s.way, s.reach).strokes[0]!.poses)
  const sweep = new ClearanceSweep(rig, 3, 0.02)
  const q = new Float64Array(rig.joints.length)
  /** m, with each side at a step of its stroke. */
  const at = (...steps: readonly [number, number]): number => {
    steps.forEach((step, a) => {
      const { joints } = rig.arms[a]!
      const i = ((step % STEPS) + STEPS) % STEPS
      joints.forEach((j, k) => {
        q[j] = poses[a]![i * joints.length + k]!
      })
    })
    sweep.start(q, 0)
    return Math.min(...sweep.now)
  }
  const found = new StrokeDistances(rig, limits).nearest([AHEAD, other])!.distance
  return { at, found }
}

const steps = Array.from({ length: STEPS }, (_, i) => i)
/** The catch of one way is the exit of the other: an astern stroke runs backwards about the middle of the drive, phase 1/4. */
const HALF = STEPS / 2

describe('arms that stroke', () => {
  it.each<[string, StrokeSettings['sides'], Stroking['way'], (i: number) => number]>([
    ['together', 'together', 'ahead', (i) => i],
    ['alternating', 'alternating', 'ahead', (i) => i + HALF],
    ['together, one of them astern', 'together', 'astern', (i) => HALF - i],
    ['alternating, one of them astern', 'alternating', 'astern', (i) => -i],
  ])('%s come as near as in the places that they are in at once', (_, sides, way, other) => {
    const { at, found } = both(sides, way, way === 'astern' ? 0.5 : 1)
    const least = Math.min(...steps.map((i) => at(i, other(i))))
    expect(Math.abs(found - least)).toBeLessThan(2e-3)
  })

  it('each at a cadence of its own come as near as in any two places', () => {
    const { at, found } = both('free', 'ahead')
    const some = steps.filter((i) => i % GRID === 0)
    const least = Math.min(...some.flatMap((i) => some.map((j) => at(i, j))))
    // The grid is 6 deg of a stroke wide.
    expect(found).toBeLessThan(least + 1e-3)
    expect(found).toBeGreaterThan(least - 0.02)
  })
})
