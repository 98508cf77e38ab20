/**
 * The craft that a rig states, by how its way begins to change: every figure of `hull` and `water` against a closed form. The hull is half
 * a prolate spheroid, whose added masses H. Lamb gives in closed form ("Hydrodynamics", 6th ed., 1932, art. 114, 115; from memory).
 */
import { describe, expect, test } from 'vitest'
import type { HullSettings } from '../../src/files/rig.js'
import { waterOf } from '../../src/motion/water/properties.js'
import { craftMotionOf } from '../../src/motion/water/rig-craft.js'

const [A, B, MASS] = [2, 0.5, 700]
const GYRATION = 0.8
const CENTRE = 0.3
const WATER = { density: 1025, viscosity: 1.2e-6 }
const [AREA, FORM, CROSS] = [4.1, 0.25, 0.7]

const HULL: HullSettings = {
  ...{ length: 2 * A, beam: 2 * B, draught: B, gyration: GYRATION, centre: CENTRE, added: null },
  resistance: { kind: 'wetted', area: AREA, formFactor: FORM },
  ...{ crossFlow: CROSS, sway: null, yaw: null, metacentricHeight: null, mostHeel: 0.17 },
}

/** Shares of the displaced mass along and athwart, and of its own moment of inertia about z. */
const K = (() => {
  const e2 = 1 - (B / A) ** 2
  const log = 2 * Math.atanh(Math.sqrt(e2))
  const alpha = ((2 * (1 - e2)) / e2 ** 1.5) * (log / 2 - Math.sqrt(e2))
  const beta = 1 / e2 - ((1 - e2) / (2 * e2 ** 1.5)) * log
  const turn = (e2 ** 2 * (beta - alpha)) / ((2 - e2) * (2 * e2 - (2 - e2) * (beta - alpha)))
  return { surge: alpha / (2 - alpha), sway: beta / (2 - beta), yaw: turn }
})()
const M11 = MASS * (1 + K.surge)
const M22 = MASS * (1 + K.sway)
const M66 = MASS * GYRATION ** 2 + (K.yaw * MASS * (A * A + B * B)) / 5

/** m/s2, m/s2, rad/s2: at this way through the water, pulled so at the craft frame's origin. */
function changes(hull: HullSettings, way: readonly number[], wrench: readonly number[] = []): number[] {
  const craft = craftMotionOf({ mass: MASS }, hull, WATER, 1)
  craft.state.set(way, 3)
  craft.pull(
    Float64Array.from({ length: 6 }, (_, i) => wrench[i] ?? 0),
    0,
    0,
  )
  const out = new Float64Array(3)
  craft.changes(out)
  return [...out]
}

describe('at rest', () => {
  test('it answers a pull by its mass and that of half a spheroid of water', () => {
    const [u, v, r] = changes(HULL, [0, 0, 0], [50, 40, 0, 0, 0, 30])
    expect(u! * M11).toBeCloseTo(50, 9)
    expect(v! * M22).toBeCloseTo(40, 9)
    // The pull athwart acts at the origin, which lies behind the centre.
    expect(r! * M66).toBeCloseTo(30 - CENTRE * 40, 9)
  })

  test('and by what the rig states of the water instead', () => {
    const added = { surge: 20, sway: 300, yaw: 90 }
    const [u, v, r] = changes({ ...HULL, added }, [0, 0, 0], [50, 40, 0, 0, 0, 30])
    expect(u! * (MASS + 20)).toBeCloseTo(50, 9)
    expect(v! * (MASS + 300)).toBeCloseTo(40, 9)
    expect(r! * (MASS * GYRATION ** 2 + 90)).toBeCloseTo(30 - CENTRE * 40, 9)
  })
})

describe('under way', () => {
  test('ahead it is held by the ITTC-1957 line: coefficient .0046875 at a Reynolds number of 1e6 (project check values 6)', () => {
    const speed = (1e6 * WATER.viscosity) / (2 * A)
    const [u] = changes(HULL, [speed, 0, 0])
    expect(u! * M11).toBeCloseTo(-0.5 * WATER.density * AREA * (1 + FORM) * 0.0046875 * speed ** 2, 6)
  })

  test('athwart and turning by the cross flow past its profile: rho/2 Cd L T and rho/2 Cd T L^4/32', () => {
    const strip = 0.5 * WATER.density * CROSS * B
    const [, v] = changes(HULL, [0, -0.4, 0])
    expect(v! * M22).toBeCloseTo(strip * 2 * A * 0.4 ** 2, 9)
    const [, , r] = changes(HULL, [0, 0, 0.6])
    expect(r! * M66).toBeCloseTo(-strip * ((2 * A) ** 4 / 32) * 0.6 ** 2, 9)
  })

  test('or by the damping that the rig states, either of the two alone', () => {
    const sway = changes({ ...HULL, sway: { linear: 60, quadratic: 200 } }, [0, 0.5, 0.6])
    expect(sway[1]! * M22).toBeCloseTo(-60 * 0.5 - 200 * 0.25, 9)
    expect(sway[2]).toBe(changes(HULL, [0, 0.5, 0.6])[2])
    const yaw = changes({ ...HULL, yaw: { linear: 15, quadratic: 90 } }, [0, 0.5, 0.6])
    expect(yaw[2]! * M66).toBeCloseTo(-15 * 0.6 - 90 * 0.36, 9)
    expect(yaw[1]).toBe(changes(HULL, [0, 0.5, 0.6])[1])
  })
})

describe('the water that a rig states', () => {
  const [temperature, none] = [15, { density: null, viscosity: null }]
  // Dynamic viscosity of fresh water at 15 C: 1.1386e-6 m2/s times 999.1026 kg/m3 (project check values 6).
  const dynamic = 1.1386e-6 * 999.1026

  test('is fresh at its temperature', () => {
    const { density, viscosity } = waterOf({ temperature, ...none })
    expect(density).toBeCloseTo(999.103, 3)
    expect((density * viscosity) / dynamic).toBeCloseTo(1, 4)
  })

  test('has the stated density, and over it the dynamic viscosity of fresh water', () => {
    const { density, viscosity } = waterOf({ temperature, ...none, density: 1025 })
    expect(density).toBe(1025)
    expect((1025 * viscosity) / dynamic).toBeCloseTo(1, 4)
  })

  test('has the stated viscosity: sea water at 15 C, 1026 kg/m3, 1.1892e-6 m2/s (ITTC 7.5-02-01-03, from memory)', () => {
    const sea = { density: 1026, viscosity: 1.1892e-6 }
    expect(waterOf({ temperature, ...sea })).toEqual(sea)
    expect(waterOf({ temperature, ...none, viscosity: 1.1892e-6 }).density).toBeCloseTo(999.103, 3)
  })
})
