/**
 * Water, hull drag and added mass against published figures (project check values 6; sources beside each check) and against scipy.
 * The blade is in `blade-water.test.ts`, the craft in `craft-motion.test.ts`.
 */
import { describe, expect, test } from 'vitest'
import { ellipsoidFactors } from '../../src/motion/water/added-mass.js'
import { DragTable } from '../../src/motion/water/drag-table.js'
import { heel } from '../../src/motion/water/heel.js'
import { FrictionDrag, frictionLine, hullSpeed } from '../../src/motion/water/hull-drag.js'
import { freshWater } from '../../src/motion/water/properties.js'
import { needs } from '../setup/needs.js'
import { python } from '../setup/python.js'

describe('fresh water', () => {
  // M. Tanaka et al., Metrologia 38:301 (2001), to the printed digit.
  test.each([
    [4, 999.975],
    [10, 999.703],
    [15, 999.103],
    [20, 998.207],
    [25, 997.047],
    [30, 995.649],
  ])('density at %d C is %d kg/m3', (temperature, density) => {
    expect(Math.abs(freshWater(temperature).density - density)).toBeLessThan(0.00051)
  })

  test('kinematic viscosity at 15 C is 1.1386e-6 m2/s (the figure of the worked friction example)', () => {
    expect(freshWater(15).viscosity.toExponential(4)).toBe('1.1386e-6')
  })

  // The full formulation that the short correlation stands for: M. L. Huber et al., "New international formulation for the
  // viscosity of H2O", J. Phys. Chem. Ref. Data 38(2):101-125 (2009), eqs 2, 11, 12, without the critical enhancement, which is
  // 1 away from the critical point. Coefficients: tables 2 and 3 as carried by public code.
  test('dynamic viscosity agrees with the international formulation within 1e-4 from 0 to 40 C', () => {
    const temperatures = Array.from({ length: 41 }, (_, i) => i)
    for (const t of temperatures) {
      const { density, viscosity } = freshWater(t)
      expect(Math.abs((viscosity * density) / huber(t, density) - 1)).toBeLessThan(1e-4)
    }
  })
})

// biome-ignore format: a table, rows by power of the density
const H = [
  [0.520094, 0.0850895, -1.08374, -0.289555, 0, 0],
  [0.222531, 0.999115, 1.88797, 1.26613, 0, 0.120573],
  [-0.281378, -0.906851, -0.772479, -0.489837, -0.25704, 0],
  [0.161913, 0.257399, 0, 0, 0, 0],
  [-0.0325372, 0, 0, 0.0698452, 0, 0],
  [0, 0, 0, 0, 0.00872102, 0],
  [0, 0, 0, -0.00435673, 0, -0.000593264],
]

function huber(t: number, density: number): number {
  const warmth = (t + 273.15) / 647.096
  const rho = density / 322
  const thin = 1.67752 + 2.20462 / warmth + 0.6366564 / warmth ** 2 - 0.241605 / warmth ** 3
  let sum = 0
  for (const [j, row] of H.entries())
    for (const [i, h] of row.entries()) sum += h * (1 / warmth - 1) ** i * (rho - 1) ** j
  return ((1e-6 * 100 * Math.sqrt(warmth)) / thin) * Math.exp(rho * sum)
}

describe('hull drag', () => {
  // ITTC-57 line, check values 6.
  test.each([
    [1e5, '0.0083333'],
    [1e6, '0.0046875'],
    [1e7, '0.0030000'],
    [1e8, '0.0020833'],
  ])('friction coefficient at Reynolds number %d is %s', (reynolds, coefficient) => {
    expect(frictionLine(reynolds).toFixed(7)).toBe(coefficient)
  })

  test('the worked hull: 4.5 m, 1.8 m2, 1.5 m/s in water of 15 C: Re 5.9283e6, Cf .0032922, 6.661 N', () => {
    const water = { density: 999.1026, viscosity: 1.1386e-6 }
    const reynolds = (1.5 * 4.5) / water.viscosity
    expect(reynolds.toExponential(4)).toBe('5.9283e+6')
    expect(frictionLine(reynolds).toFixed(7)).toBe('0.0032922')
    const plank = new FrictionDrag({ length: 4.5, area: 1.8, formFactor: 0 }, water)
    expect(plank.force(1.5).toFixed(3)).toBe('6.661')
    const formed = new FrictionDrag({ length: 4.5, area: 1.8, formFactor: 0.2 }, freshWater(15))
    expect(formed.force(1.5) / 1.2).toBeCloseTo(6.661, 3)
  })

  test('displacement hull speed of 4.5 m is 2.650 m/s', () => {
    expect(hullSpeed(4.5).toFixed(3)).toBe('2.650')
  })

  test('5 kg moved .5 m in a craft of 60 kg with GM .15 m heel it by 15.5 deg', () => {
    const angle = heel(5 * 0.5, { displacement: 60, metacentricHeight: 0.15 })
    expect(((angle * 180) / Math.PI).toFixed(1)).toBe('15.5')
  })
})

describe('added mass of an ellipsoid', () => {
  // H. Lamb, "Hydrodynamics", 6th ed., art. 115: k1, k2, k' of prolate spheroids by length over breadth; from memory.
  test.each([
    [1.5, 0.305, 0.621, 0.094],
    [2, 0.209, 0.702, 0.24],
    [2.99, 0.122, 0.803, 0.465],
    [4.99, 0.059, 0.895, 0.701],
    [6.97, 0.036, 0.933, 0.805],
    [9.97, 0.021, 0.96, 0.883],
  ])("spheroid %d: k1 %d, k2 %d, k' %d", (ratio, k1, k2, k3) => {
    const k = ellipsoidFactors(ratio, 1, 1)
    const turning = (5 * k.yaw) / (ratio ** 2 + 1)
    // The table was worked out by hand: its last digit is off by up to 2.
    for (const [ours, table] of [
      [k.surge, k1],
      [k.sway, k2],
      [turning, k3],
    ] as const)
      expect(Math.abs(ours - table)).toBeLessThan(0.0025)
    // The closed form for two equal axes (art. 114; Fossen, 2021, 8.4.2).
    const e2 = 1 - 1 / ratio ** 2
    const log = 2 * Math.atanh(Math.sqrt(e2))
    const alpha = ((2 * (1 - e2)) / e2 ** 1.5) * (log / 2 - Math.sqrt(e2))
    const beta = 1 / e2 - ((1 - e2) / (2 * e2 ** 1.5)) * log
    expect(k.surge).toBeCloseTo(alpha / (2 - alpha), 12)
    expect(k.sway).toBeCloseTo(beta / (2 - beta), 12)
    const whole = (2 - e2) * (2 * e2 - (2 - e2) * (beta - alpha))
    expect(turning).toBeCloseTo((e2 ** 2 * (beta - alpha)) / whole, 11)
  })

  test('a sphere takes half of its water along and none when it turns', () => {
    const k = ellipsoidFactors(0.7, 0.7, 0.7)
    expect(k.surge).toBeCloseTo(0.5, 12)
    expect(k.sway).toBeCloseTo(0.5, 12)
    expect(k.yaw).toBe(0)
  })

  test('a disc that moves square to its face: 8/3 rho r^3 (Lamb, art. 102; from memory)', () => {
    // An ellipsoid that is flat along y: the disc stands, and sways.
    const flat = 1e-5
    const displaced = (4 / 3) * Math.PI * flat
    expect(ellipsoidFactors(1, flat, 1).sway * displaced).toBeCloseTo(8 / 3, 3)
  })

  const CRAFT = [
    [2, 0.6, 0.12],
    [2.25, 0.3, 0.1],
    [2, 1.99, 0.1],
    [1, 0.5, 2],
  ] as const

  test.skipIf(!needs('python3-scipy'))('three unequal axes: the integrals, by scipy.integrate.quad', () => {
    const theirs = python<{ surge: number; sway: number; yaw: number }[]>(
      `
import json, sys
from scipy.integrate import quad
def factors(a, b, c):
    def integral(x):
        # t = s/(1 - s) brings infinity to 1
        def f(s):
            t = s / (1 - s)
            return 1 / ((x*x + t) * ((a*a + t) * (b*b + t) * (c*c + t)) ** .5) / (1 - s) ** 2
        return a * b * c * quad(f, 0, 1, epsabs=1e-13, epsrel=1e-12, limit=500)[0]
    al, be = integral(a), integral(b)
    d = a*a - b*b
    return {'surge': al / (2 - al), 'sway': be / (2 - be), 'yaw': d*d * (be - al) / 5 / (2 * d - (a*a + b*b) * (be - al))}
json.dump([factors(*axes) for axes in json.load(sys.stdin)], sys.stdout)
`,
      CRAFT,
    )
    CRAFT.forEach(([a, b, c], i) => {
      const ours = ellipsoidFactors(a, b, c)
      for (const key of ['surge', 'sway', 'yaw'] as const)
        expect(ours[key] / theirs[i]![key]).toBeCloseTo(1, key === 'yaw' ? 6 : 9)
    })
  })
})

describe.skipIf(!needs('python3-scipy'))('a drag table', () => {
  const TABLES = [
    [0.8, 1.1, 1.543, 3.9, 3.087, 28],
    [0.5, 1, 1, 1.01, 1.2, 9, 2.5, 9.5],
    [0.3, 2, 0.9, 2, 1, 7],
  ].map((flat) => Array.from({ length: flat.length / 2 }, (_, i) => flat.slice(2 * i, 2 * i + 2)))

  test.each(TABLES.map((rows) => ({ rows })))(
    '$rows is what scipy.interpolate.PchipInterpolator makes of it',
    ({ rows }) => {
      const table = new DragTable(rows.map(([speed, force]) => ({ speed: speed!, force: force! })))
      const speeds = Array.from({ length: 501 }, (_, i) => (i / 500) * table.top)
      const theirs = python<number[]>(
        `
import json, sys
from scipy.interpolate import PchipInterpolator
job = json.load(sys.stdin)
rows = [[0, 0]] + job['rows']
json.dump(list(PchipInterpolator([r[0] for r in rows], [r[1] for r in rows])(job['speeds'])), sys.stdout)
`,
        { rows, speeds },
      )
      speeds.forEach((speed, i) => {
        expect(table.force(speed)).toBeCloseTo(theirs[i]!, 10)
        expect(table.force(-speed)).toBeCloseTo(-theirs[i]!, 10)
      })
    },
  )
})
