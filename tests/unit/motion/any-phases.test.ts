/** The nearest of two arms on paths of their own, against looking at every pair of places. */
import { describe, expect, it } from 'vitest'
import { readRigFile } from '../../../src/files/load.js'
import { nearestAnywhere } from '../../../src/motion/clearance/any-phases.js'
import { Bodies, type ThickRig } from '../../../src/motion/clearance/bodies.js'
import { pairsOf } from '../../../src/motion/clearance/pairs.js'
import { CLOSEST } from '../../../src/motion/clearance/segments.js'
import { randomStream } from '../../../src/random.js'

const demo = readRigFile('rigs/reservoir-skiff.yaml', {})
/** The demo's arms with their bases nearer to each other. @param y m */
const skiff = (y: number): ThickRig => ({
  ...demo,
  clearance: demo.clearance!,
  arms: demo.arms.map((arm) => ({ ...arm, base: { ...arm.base, at: [0, arm.side === 'port' ? y : -y, 0] } })),
})
const PLACES = 96

/** A closed path of all joints, seeded: each joint to and fro about some place. */
function anyPath(rig: ThickRig, name: string): Float64Array[] {
  const random = randomStream(11, name)
  const parts = rig.joints.map(() => ({
    at: 2 * random.uniform() - 1,
    size: 0.6 * random.uniform(),
    from: random.uniform(),
  }))
  return Array.from({ length: PLACES }, (_, i) =>
    Float64Array.from(parts, ({ at, size, from }) => at + size * Math.sin(2 * Math.PI * (i / PLACES + from))),
  )
}

/** m, at every pair of places, and what the arms move at most from one to the next. */
function everywhere(rig: ThickRig, one: readonly Float64Array[], other: readonly Float64Array[]) {
  const bodies = new Bodies(rig)
  const { groups, pairs } = pairsOf(rig, bodies)
  const mine = pairs.filter(({ group }) => groups[group]!.otherArm !== null)
  const out = new Float64Array(CLOSEST)
  let least = Number.POSITIVE_INFINITY
  for (const p of one) {
    bodies.place(0, p, p, 0)
    for (const s of other) {
      bodies.place(1, s, s, 0)
      for (const { a, b } of mine) {
        bodies.measure(a, b, out)
        least = Math.min(least, out[0]!)
      }
    }
  }
  return least
}

describe('two arms anywhere on their paths', () => {
  it.each([0.5, 0.7, 0.8, 0.9])('come no nearer than it says, and as near: bases %f m aside', (y) => {
    const rig = skiff(y)
    const [one, other] = [anyPath(rig, `port ${y}`), anyPath(rig, `starboard ${y}`)]
    const found = nearestAnywhere(rig, { arm: 0, path: one }, { arm: 1, path: other }, 0.05)!
    const grid = everywhere(rig, one, other)
    if (grid < 0) {
      expect(found.distance).toBeLessThan(0)
      return
    }
    // Of the grid's own places it is never farther than by what it may be too large.
    expect(found.distance).toBeLessThanOrEqual(1.0205 * grid + 1e-3)
    // Its own place is a true one: measured anew there.
    const [i, k] = [found.phases[0] * PLACES, found.phases[1] * PLACES]
    const bodies = new Bodies(rig)
    bodies.place(0, one[Math.floor(i)]!, one[(Math.floor(i) + 1) % PLACES]!, i % 1)
    bodies.place(1, other[Math.floor(k)]!, other[(Math.floor(k) + 1) % PLACES]!, k % 1)
    const [a, b] = found.between.map((name) =>
      bodies.names.map((n, at) => (n === name ? at : -1)).filter((at) => at >= 0),
    )
    const out = new Float64Array(CLOSEST)
    const distances = a!.flatMap((x) =>
      b!.map((z) => {
        bodies.measure(x, z, out)
        return out[0]!
      }),
    )
    expect(Math.min(...distances)).toBeCloseTo(found.distance, 9)
  })

  it('are found near also where one of them is for a moment only, which no first look falls on', () => {
    const rig = skiff(0.9)
    const rest = Float64Array.from(rig.joints, () => 0.3)
    const over = rest.slice()
    // Across the craft, at one place that lies between two cells of the first cut.
    over.set([Math.PI, 1.4, 0.1, 0, 0, 0])
    const still = Array.from({ length: PLACES }, () => rest)
    const reaching = still.map((q, i) => (i === 4 ? over : q))
    expect(everywhere(rig, still, still)).toBeGreaterThan(1.5)
    const least = everywhere(rig, reaching, still)
    expect(least).toBeGreaterThan(0.2)
    const found = nearestAnywhere(rig, { arm: 0, path: reaching }, { arm: 1, path: still }, 0.05)!
    expect(found.distance).toBeLessThanOrEqual(1.0205 * least + 1e-3)
    expect(found.distance).toBeGreaterThan(least - 1e-9)
    expect(found.phases[0] * PLACES).toBeCloseTo(4, 1)
  })

  it('have nothing to come near to when the rig leaves it all out', () => {
    const rig = skiff(0.5)
    const names = new Bodies(rig).names
    const [port, starboard] = ['port.', 'starboard.'].map((start) => names.filter((n) => n.startsWith(start)))
    const leftOut = port!.flatMap((p) => starboard!.map((s) => [p, s] as const))
    const path = anyPath(rig, 'port')
    const bare = { ...rig, clearance: { ...rig.clearance, leftOut } }
    expect(nearestAnywhere(bare, { arm: 0, path }, { arm: 1, path }, 0.05)).toBeNull()
  })
})
