import { describe, expect, test } from 'vitest'
import {
  bladeDeflection,
  boxInertia,
  firstFrequency,
  mountOf,
  mountOfDeflection,
  mountOfSection,
  nearestHarmonic,
  ownFrequency,
  tipDeflection,
} from '../../../src/motion/mount.js'

const SECTION = { modulus: 68.9e9, inertia: 1e-8, length: 0.5, massPerLength: 1 }

test('the section of a flat bar and of a flat tube bends by its height: (b h^3 - the hollow) / 12', () => {
  // 20 mm wide and 30 mm high: 20 x 27000 / 12 mm4, and on its side 30 x 8000 / 12.
  expect(boxInertia(0.02, 0.03) * 1e12).toBeCloseTo(45000, 6)
  expect(boxInertia(0.03, 0.02) * 1e12).toBeCloseTo(20000, 6)
  // Walls of 2 mm leave a hollow of 16 by 26: less 16 x 17576 / 12.
  expect(boxInertia(0.02, 0.03, 0.002) * 1e12).toBeCloseTo(45000 - (16 * 17576) / 12, 6)
})

test('the mount that a rig states is the same by its section and by one pull at it', () => {
  const { modulus, inertia, length, massPerLength } = SECTION
  const common = { length, tipMass: 2, reach: 0.3, lines: [], margin: 0.2, harmonics: 20 }
  const bySection = { ...common, beam: { kind: 'section', modulus, inertia, massPerLength } } as const
  // 20 N bend it by P L^3 / 3 E I.
  const deflection = (20 * length ** 3) / (3 * modulus * inertia)
  const byPull = {
    ...common,
    beam: { kind: 'measured', load: 20, deflection, mass: massPerLength * length },
  } as const
  const [section, pull] = [mountOf(bySection), mountOf(byPull)]
  expect(section.stiffness).toBeCloseTo((3 * 68.9e9 * 1e-8) / 0.125, 3)
  expect(section.mass).toBe(0.5)
  expect(pull.stiffness / section.stiffness).toBeCloseTo(1, 12)
  expect(ownFrequency(byPull) / ownFrequency(bySection)).toBeCloseTo(1, 12)
  // Rayleigh: 33/140 of the beam rings with the tip; within 2e-4 of a fifth as heavy a beam.
  const rayleigh = Math.sqrt(section.stiffness / (2 + (33 / 140) * 0.5)) / (2 * Math.PI)
  expect(Math.abs(ownFrequency(bySection) / rayleigh - 1)).toBeLessThan(2e-4)
})

test('a heavy arm on a light beam rings as a mass on a spring, and no mass of the beam at all is that limit', () => {
  const spring = Math.sqrt(4000 / 5) / (2 * Math.PI)
  expect(firstFrequency({ stiffness: 4000, mass: 0 }, 5)).toBe(spring)
  expect(firstFrequency({ stiffness: 4000, mass: 1e-9 }, 5)).toBeCloseTo(spring, 6)
  // Rayleigh: 33/140 of the beam rings with the tip, a little too high.
  const rayleigh = Math.sqrt(4000 / (5 + (33 / 140) * 0.5)) / (2 * Math.PI)
  const exact = firstFrequency({ stiffness: 4000, mass: 0.5 }, 5)
  expect(exact).toBeLessThan(rayleigh)
  expect(exact / rayleigh).toBeCloseTo(1, 4)
})

test('more tip mass always rings lower', () => {
  let before = Number.POSITIVE_INFINITY
  for (let tip = 0; tip < 10; tip += 0.1) {
    const hertz = firstFrequency({ stiffness: 4000, mass: 0.7 }, tip)
    expect(hertz).toBeLessThan(before)
    before = hertz
  }
})

test('an arm that reaches on bends the mount more at the blade than at its tip', () => {
  const mount = mountOfSection(SECTION)
  expect(bladeDeflection(mount, 0.5, 0, 20)).toBe(tipDeflection(mount, 20))
  // P ((L + a)^3 - a^3) / 3 E I
  const way = (20 * (1.4 ** 3 - 0.9 ** 3)) / (3 * 68.9e9 * 1e-8)
  expect(bladeDeflection(mount, 0.5, 0.9, 20)).toBeCloseTo(way, 12)
})

describe('the nearest harmonic', () => {
  test('has its order, and its margin with a sign', () => {
    const above = nearestHarmonic(3.3, 0.7, 10)
    expect(above.order).toBe(5)
    expect(above.frequency).toBeCloseTo(3.5, 12)
    expect(above.margin).toBeCloseTo(3.5 / 3.3 - 1, 12)
    const below = nearestHarmonic(3, 0.7, 10)
    expect(below.order).toBe(4)
    expect(below.margin).toBeCloseTo(-0.0667, 4)
  })

  test('is not looked for beyond the highest, nor below the fundamental', () => {
    expect(nearestHarmonic(20, 0.7, 5)).toEqual({ order: 5, frequency: 3.5, margin: 3.5 / 20 - 1 })
    expect(nearestHarmonic(0.2, 0.7, 5).order).toBe(1)
    expect(nearestHarmonic(17, 16, 1)).toEqual({ order: 1, frequency: 16, margin: 16 / 17 - 1 })
  })

  test('refuses what is no frequency and no order', () => {
    expect(() => nearestHarmonic(0, 1, 5)).toThrow('mount frequency is 0 Hz; expected more than zero')
    expect(() => nearestHarmonic(3, Number.NaN, 5)).toThrow('fundamental is NaN Hz')
    expect(() => nearestHarmonic(3, 1, 2.5)).toThrow('harmonics is 2.5; expected a whole number, 1 or more')
    expect(() => nearestHarmonic(3, 1, 0)).toThrow('harmonics is 0')
  })
})

test.each([
  [() => mountOfSection({ ...SECTION, modulus: 0 }), 'mount.modulus is 0 Pa; expected more than zero'],
  [() => mountOfSection({ ...SECTION, inertia: -1 }), 'mount.inertia is -1 m4'],
  [() => mountOfSection({ ...SECTION, length: Number.NaN }), 'mount.length is NaN m'],
  [() => mountOfSection({ ...SECTION, massPerLength: 0 }), 'mount.mass-per-length is 0 kg/m'],
  [() => mountOfDeflection(20, 0, 1), 'mount.deflection is 0 m'],
  [() => mountOfDeflection(0, 1e-3, 1), 'mount.load is 0 N'],
  [() => mountOfDeflection(20, 1e-3, -1), 'mount.mass is -1 kg; expected zero or more'],
  [() => firstFrequency({ stiffness: 1, mass: 0 }, 0), 'mount.tip-mass is 0 kg; expected more than zero'],
  [() => firstFrequency({ stiffness: 1, mass: 1 }, -1), 'mount.tip-mass is -1 kg'],
  [() => bladeDeflection({ stiffness: 1, mass: 1 }, 1, -0.1, 20), 'mount.reach is -0.1 m'],
  [() => boxInertia(0.02, 0.03, 0.011), 'mount.wall is 0.011 m; expected 0.01 m or less, half the section'],
  [() => boxInertia(0, 0.03), 'mount.width is 0 m'],
])('%s: %s', (make, message) => {
  expect(make).toThrow(message)
})
