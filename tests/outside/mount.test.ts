/**
 * The mount against the closed forms of the cantilever (project check values 9: E 68.9 GPa, 2700 kg/m3, 0.5 m, 20 N) and scipy.
 *
 * With a tip mass the check values 22.258 and 17.756 Hz are Rayleigh's approximation (33/140 of the beam rings with the tip),
 * which is always a little high. The exact root of the frequency equation is 22.254 Hz for the solid bar, by this code, by
 * scipy's root finder and by beam elements (below); for the light tube both round to 17.756 Hz.
 */
import { describe, expect, test } from 'vitest'
import {
  bladeDeflection,
  boxInertia,
  firstFrequency,
  mountOfDeflection,
  mountOfSection,
  tipDeflection,
} from '../../src/motion/mount.js'
import { needs } from '../setup/needs.js'
import { python } from '../setup/python.js'

const LENGTH = 0.5
const MODULUS = 68.9e9
const sections = {
  solid: { inertia: boxInertia(0.02, 0.02), area: 0.02 ** 2 },
  tube: { inertia: boxInertia(0.02, 0.02, 0.002), area: 0.02 ** 2 - 0.016 ** 2 },
}
const mountOf = ({ inertia, area }: { inertia: number; area: number }) =>
  mountOfSection({ modulus: MODULUS, inertia, length: LENGTH, massPerLength: 2700 * area })

describe.each([
  {
    name: '20x20 solid',
    section: sections.solid,
    mm4: 13333,
    mm: '0.90711',
    bare: '65.283',
    laden: '22.254',
    rayleigh: '22.258',
  },
  {
    name: '20x20x2 tube',
    section: sections.tube,
    mm4: 7872,
    mm: '1.53644',
    bare: '83.603',
    laden: '17.756',
    rayleigh: '17.756',
  },
])('$name', ({ section, mm4, mm, bare, laden, rayleigh }) => {
  const mount = mountOf(section)

  test(`I is ${mm4} mm4, 20 N bend it by ${mm} mm`, () => {
    expect(Math.round(section.inertia * 1e12)).toBe(mm4)
    expect((1e3 * tipDeflection(mount, 20)).toFixed(5)).toBe(mm)
  })

  test(`it rings at ${bare} Hz, with 1 kg at the tip at ${laden} Hz`, () => {
    expect(firstFrequency(mount, 0).toFixed(3)).toBe(bare)
    expect(firstFrequency(mount, 1).toFixed(3)).toBe(laden)
  })

  test(`by Rayleigh's approximation ${rayleigh} Hz, which is high by less than 2e-4`, () => {
    const approximation = Math.sqrt(mount.stiffness / (1 + (33 / 140) * mount.mass)) / (2 * Math.PI)
    expect(approximation.toFixed(3)).toBe(rayleigh)
    const high = approximation / firstFrequency(mount, 1) - 1
    expect(high).toBeGreaterThan(0)
    expect(high).toBeLessThan(2e-4)
  })

  test('what was measured at the tip gives the same frequencies as the section', () => {
    const measured = mountOfDeflection(20, tipDeflection(mount, 20), mount.mass)
    expect(firstFrequency(measured, 1)).toBeCloseTo(firstFrequency(mount, 1), 10)
  })
})

test('without a tip mass the root is 3.51602 (R. D. Blevins, 1979, table 8-1, from memory)', () => {
  const mount = mountOf(sections.solid)
  const unit = Math.sqrt((MODULUS * sections.solid.inertia) / (mount.mass * LENGTH ** 3)) / (2 * Math.PI)
  expect((firstFrequency(mount, 0) / unit).toFixed(5)).toBe('3.51602')
})

describe.skipIf(!needs('python3-scipy'))('by scipy', () => {
  const ratios = [0, 0.01, 0.3, 1, 3.7, 40, 1e4]

  test('roots of the frequency equation are those of scipy.optimize.brentq', () => {
    const theirs = python<number[]>(
      `
import json, sys
from math import cos, cosh, sin, sinh
from scipy.optimize import brentq
def f(b, mu): return 1 + cos(b) * cosh(b) + mu * b * (cos(b) * sinh(b) - sin(b) * cosh(b))
json.dump([brentq(f, 1e-3, 1.9, args=(mu,), xtol=1e-15, rtol=1e-14) for mu in json.load(sys.stdin)], sys.stdout)
`,
      ratios,
    )
    ratios.forEach((ratio, i) => {
      const mount = { stiffness: 3, mass: 1 }
      expect(2 * Math.PI * firstFrequency(mount, ratio)).toBeCloseTo(theirs[i]! ** 2, 9)
    })
  })

  test.each([
    { name: 'solid', section: sections.solid },
    { name: 'tube', section: sections.tube },
  ])('$name: frequency and deflection of the blade by 60 beam elements, scipy.linalg', ({ section }) => {
    // Euler-Bernoulli elements with consistent masses; the arm as a rigid reach beyond the tip.
    const reach = 0.9
    const theirs = python<{ hertz: number; blade: number }>(
      `
import json, sys
import numpy as np
from scipy.linalg import eigh, solve
j = json.load(sys.stdin)
n, L, EI, m, M, a, P = 60, j['length'], j['EI'], j['perLength'], j['tip'], j['reach'], j['load']
e = L / n
k = EI / e**3 * np.array([[12, 6*e, -12, 6*e], [6*e, 4*e*e, -6*e, 2*e*e], [-12, -6*e, 12, -6*e], [6*e, 2*e*e, -6*e, 4*e*e]])
c = m * e / 420 * np.array([[156, 22*e, 54, -13*e], [22*e, 4*e*e, 13*e, -3*e*e], [54, 13*e, 156, -22*e], [-13*e, -3*e*e, -22*e, 4*e*e]])
K, C = np.zeros((2*n+2, 2*n+2)), np.zeros((2*n+2, 2*n+2))
for i in range(n):
    s = slice(2*i, 2*i + 4)
    K[s, s] += k; C[s, s] += c
C[-2, -2] += M
K, C = K[2:, 2:], C[2:, 2:]
load = np.zeros(2 * n); load[-2], load[-1] = P, P * a
way = solve(K, load)
json.dump({'hertz': float(np.sqrt(eigh(K, C, eigvals_only=True)[0]) / 2 / np.pi), 'blade': float(way[-2] + a * way[-1])}, sys.stdout)
`,
      {
        length: LENGTH,
        EI: MODULUS * section.inertia,
        perLength: 2700 * section.area,
        tip: 1,
        reach,
        load: 25,
      },
    )
    const mount = mountOf(section)
    expect(firstFrequency(mount, 1) / theirs.hertz).toBeCloseTo(1, 6)
    expect(bladeDeflection(mount, LENGTH, reach, 25) / theirs.blade).toBeCloseTo(1, 6)
  })
})
