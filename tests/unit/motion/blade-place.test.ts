/** What is read from a blade's pose, against its corners (extremities.ts) and against the path that turned it (blade.ts). */
import { describe, expect, it } from 'vitest'
import { strokesOf } from '../../../src/driver/strokes.js'
import { loadRig } from '../../../src/files/load.js'
import { BladePlace } from '../../../src/motion/blade-place.js'
import { Chain } from '../../../src/motion/chain.js'
import { Extremities } from '../../../src/motion/extremities.js'
import { POSE } from '../../../src/motion/pose.js'
import { randomStream } from '../../../src/random.js'
import { watchSchemas } from '../../../src/watch/settings.js'
import { DEMO_RIG } from '../../setup/runs.js'

const rig = loadRig(DEMO_RIG, 'rig.yaml', watchSchemas)

describe.each(rig.arms.map((arm) => [arm.side, arm] as const))('a blade to %s', (_, arm) => {
  it('in any pose: depth of its centre, and its lowest corner over the water', () => {
    const joints = arm.joints.map((j) => rig.joints[j]!)
    const chain = new Chain(arm, joints)
    const place = new BladePlace(rig, arm, chain.blade)
    const ends = new Extremities(arm, joints)
    const random = randomStream(3, 'poses')
    for (let i = 0; i < 200; i++) {
      const q = Float64Array.from(joints, () => 4 * random.uniform() - 2)
      chain.forward(q)
      ends.at(q)
      const heights = [1, 2, 3, 4].map((c) => ends.points[ends.blade + 3 * c + 2]!)
      expect(place.clearance).toBeCloseTo(Math.min(...heights) + rig.craft.waterline, 12)
      expect(place.depth).toBeCloseTo(-rig.craft.waterline - ends.points[ends.blade + 2]!, 12)
      expect(place.x).toBeCloseTo(ends.points[ends.blade]!, 12)
    }
  })

  it('on its path: square in the drive, feathered on the recovery, by the same sign at both sides', () => {
    const { paths } = strokesOf(rig)
    const pose = new Float64Array(POSE)
    const place = new BladePlace(rig, arm, pose)
    const angleAt = (phase: number): number => {
      paths[arm.index]!.pose({ phase, reach: 1, lift: 0, carry: 0 }, pose)
      return place.angle
    }
    for (const phase of [0, 0.25, 0.5]) expect(angleAt(phase)).toBeCloseTo(0, 12)
    expect(angleAt(0.75)).toBeCloseTo(rig.stroke.feather, 12)
    expect(angleAt(0.65)).toBeGreaterThan(0.1)
    expect(angleAt(0.65)).toBeCloseTo(angleAt(0.85), 12)
  })
})
