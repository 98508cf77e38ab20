/** The least distance of a script's setpoints, on arms that hang straight down and a ball beside them: where it is in closed form. */
import { describe, expect, it } from 'vitest'
import { ReferenceDriver } from '../../../src/driver/reference.js'
import { readRigFile } from '../../../src/files/load.js'
import type { ClearanceSettings, Rig } from '../../../src/files/rig.js'
import { ClearanceLook } from '../../../src/preflight/clearance-look.js'
import { rig as paperRig } from '../watch/rig.js'

/** Arms from (0, +-0.6, 0.3) m; pitch swings them fore and aft; shafts of 20 mm. A ball of 30 mm beside them, 0.5 m below the bases unless z says other. */
/** @param aside m, the plane of the ball @param warn m */
function paper(aside = 0.7, warn = 0.1, z = -0.2): Rig & { readonly clearance: ClearanceSettings } {
  const clearance: ClearanceSettings = {
    ...{ least: 0.05, warn, base: 0.04, links: [0.01, 0.01, 0.01, 0.01, 0.01, 0.01], paddle: 0.02 },
    keepOut: [
      {
        name: 'ball',
        parts: [{ shape: 'capsule', from: [0, aside, z], to: [0, aside, z], radius: 0.03 }],
      },
    ],
    leftOut: [],
  }
  return { ...paperRig(), clearance }
}
const pose = (port: number, starboard = 0) => Float64Array.of(0, port, 0, 0, starboard, 0)

describe('of arms that pass a ball 0.1 m beside them', () => {
  it('is that of the passing, between two setpoints that are both far away', () => {
    const look = new ClearanceLook(paper())
    look.see(pose(-0.9), 0)
    look.see(pose(0.7), 0.01)
    look.see(pose(0.9), 0.02)
    expect(look.least!.between).toEqual(['port.shaft', 'ball'])
    // Between the middles 0.1 m, less both radii: to a millimetre.
    expect(Math.abs(look.least!.distance - 0.05)).toBeLessThan(1e-3)
    expect(look.least!.phases).toHaveLength(1)
  })

  it('is true to a millimetre up to the distance at which the rig warns, however far that is', () => {
    for (let end = 0.3; end < 1; end += 0.05) {
      const look = new ClearanceLook(paper(1, 0.6, 0))
      for (const [k, pitch] of [-0.9, end].entries()) look.see(pose(pitch), k / 100)
      expect(look.least!.between).toEqual(['port.shaft', 'ball'])
      expect(Math.abs(look.least!.distance - 0.35), `to ${end}`).toBeLessThan(1e-3)
    }
  })

  it('is that of the nearest setpoint where nothing passes', () => {
    const look = new ClearanceLook(paper())
    for (const [k, pitch] of [-0.9, -0.5, -0.7].entries()) look.see(pose(pitch), k / 100)
    // Across 0.5 sin(0.5) m in the plane and 0.1 m beside it.
    const middles = Math.hypot(0.5 * Math.sin(0.5), 0.1)
    expect(Math.abs(look.least!.distance - (middles - 0.05))).toBeLessThan(2e-3)
  })
})

it('of two arms is told with the phase of each in its own stroke', () => {
  const demo = readRigFile('rigs/reservoir-skiff.yaml', {})
  // With nothing else to come near to but each other.
  const ownPairs = demo.arms.flatMap(({ name, joints }) => {
    const bodies = [
      ...joints.map((j) => demo.joints[j]!.name),
      `${name}.base`,
      `${name}.shaft`,
      `${name}.blade`,
    ]
    return bodies.flatMap((a, i) => bodies.slice(i + 1).map((b) => [a, b] as const))
  })
  const clearance = { ...demo.clearance!, keepOut: [], leftOut: ownPairs }
  const look = new ClearanceLook({ ...demo, clearance })
  const driver = new ReferenceDriver(demo)
  const q = driver.parkPose.slice()
  driver.begin()
  // Until both have left the park place, which they share, and are no longer in step.
  for (let k = 0; k < 1000; k++) driver.step({ surge: 0.3, yaw: 0.12 }, q)
  const { port, starboard } = driver.sides
  let phases = [0, 0]
  let least = Number.POSITIVE_INFINITY
  for (let k = 0; k < 1200; k++) {
    look.see(q, k * demo.control.period)
    const { distance } = look.least!
    // Sides of unlike speeds: they meet somewhere in their strokes, each at a place of its own.
    if (distance < least) phases = [port.phase, starboard.phase]
    least = distance
    driver.step({ surge: 0.3, yaw: 0.12 }, q)
  }
  const [first, second] = look.least!.between
  expect([first.split('.')[0], second.split('.')[0]].sort()).toEqual(['port', 'starboard'])
  expect(Math.abs(phases[0]! - phases[1]!)).toBeGreaterThan(0.05)
  expect(look.least!.phases).toHaveLength(2)
  for (const [i, phase] of look.least!.phases.entries())
    expect(Math.abs(phase - phases[i]!)).toBeLessThan(0.02)
})
