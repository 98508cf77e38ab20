import { expect, test } from 'vitest'
import { readRigFile } from '../../../src/files/load.js'
import { BladePath, strokeShape } from '../../../src/motion/blade.js'
import { nearestPhase } from '../../../src/motion/nearest-phase.js'
import { POSE } from '../../../src/motion/pose.js'

const rig = readRigFile('rigs/reservoir-skiff.yaml', {})
const shape = strokeShape(
  rig.stroke,
  rig.arms.map((arm) => arm.paddle),
)
const there = new Float64Array(POSE)

test.each(rig.arms.map((arm) => [arm.name, arm] as const))(
  'finds where the %s blade is in its stroke',
  (_, arm) => {
    const path = new BladePath(shape, rig.stroke, rig.craft, arm)
    for (const phase of [0, 0.123, 0.25, 0.4, 0.5, 0.61, 0.75, 0.9, 0.9994]) {
      path.pose({ phase, reach: 1, lift: 0, carry: 0 }, there)
      const { phase: found, off } = nearestPhase(rig, arm, there)
      const apart = Math.abs(found - phase)
      expect(Math.min(apart, 1 - apart)).toBeLessThan(0.0006)
      // The blade goes 0.6 m and back in one stroke, and two thirds of that on the recovery are faster.
      expect(off).toBeLessThan(0.002)
    }
  },
)

test('says how far off a blade is that is not on the path', () => {
  const [arm] = rig.arms
  const path = new BladePath(shape, rig.stroke, rig.craft, arm!)
  path.pose({ phase: 0.25, reach: 1, lift: 0, carry: 0 }, there)
  there[10] = there[10]! + 0.2
  expect(nearestPhase(rig, arm!, there).off).toBeCloseTo(0.2, 3)
})
