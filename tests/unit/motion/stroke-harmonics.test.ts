import { expect, test } from 'vitest'
import type { MountSettings } from '../../../src/files/rig.js'
import { StrokeHarmonics } from '../../../src/motion/stroke-harmonics.js'

/** A mass on a spring: 2 Hz, all but exactly. */
const MOUNT: MountSettings = {
  length: 0.25,
  beam: { kind: 'measured', load: 4 * (4 * Math.PI) ** 2, deflection: 1, mass: 0 },
  tipMass: 4,
  reach: 0,
  lines: [],
  margin: 0.2,
  harmonics: 4,
}

test('of all strokes the harmonic stays that comes nearest, from above or below', () => {
  const harmonics = new StrokeHarmonics(MOUNT)
  expect(harmonics.own).toBeCloseTo(2, 12)
  expect(harmonics.nearest).toBeNull()
  harmonics.see(0.4)
  // The fifth would be at 2 Hz, but four are looked at.
  expect(harmonics.nearest).toMatchObject({ order: 4, rate: 0.4 })
  expect(harmonics.nearest!.margin).toBeCloseTo(-0.2, 12)
  harmonics.see(0.55)
  expect(harmonics.nearest).toMatchObject({ order: 4, rate: 0.55 })
  expect(harmonics.nearest!.margin).toBeCloseTo(0.1, 12)
  harmonics.see(0.3)
  expect(harmonics.nearest!.rate).toBe(0.55)
  harmonics.see(1.9)
  expect(harmonics.nearest).toMatchObject({ order: 1, rate: 1.9, frequency: 1.9 })
})
