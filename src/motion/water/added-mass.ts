/**
 * The water that a hull takes along when it accelerates: half an ellipsoid of the hull's length, beam and draught, under a
 * surface that stays flat (a double body). Good for the order of size, as all short formulas are: real sections are fuller
 * or sharper, and waves change it.
 *
 * Source: H. Lamb, "Hydrodynamics", 6th ed. (1932), arts. 114, 115, 121a (from memory); as k-factors times the displaced mass in T. I.
 * Fossen, "Handbook of Marine Craft Hydrodynamics and Motion Control", 2nd ed. (2021), 8.4.2.
 */
import { DrystrokeError } from '../../errors.js'
import type { AddedMass } from '../../files/rig.js'
import { expectPositive } from '../bounds.js'
import type { Water } from './properties.js'

export interface HullForm {
  /** m, of the waterline */
  readonly length: number
  /** m, of the waterline */
  readonly beam: number
  /** m, of the hull in the water */
  readonly draught: number
  /** kg, craft with all that it carries */
  readonly mass: number
}

/**
 * @param water density tells whether length, beam and draught can carry the mass at all
 * @throws DrystrokeError `file-invalid` for a hull without extent, wider than long, or too small for its mass
 */
export function hullAddedMass(hull: HullForm, water: Pick<Water, 'density'>): AddedMass {
  const { length, beam, draught, mass } = hull
  expectPositive('hull.length', length, 'm')
  expectPositive('hull.beam', beam, 'm')
  expectPositive('hull.draught', draught, 'm')
  expectPositive('craft.mass', mass, 'kg')
  if (beam > length) {
    throw new DrystrokeError(
      'file-invalid',
      `hull.beam is ${beam} m, hull.length ${length} m; expected a hull that is longer than wide, x lies along it`,
    )
  }
  const most = water.density * length * beam * draught
  if (mass > most) {
    throw new DrystrokeError(
      'file-invalid',
      `craft.mass is ${mass} kg; a box of hull.length ${length} m, hull.beam ${beam} m and hull.draught ${draught} m carries ${most.toFixed(1)} kg at most; give the draught of the laden craft`,
    )
  }
  const k = ellipsoidFactors(length / 2, beam / 2, draught)
  return { surge: k.surge * mass, sway: k.sway * mass, yaw: k.yaw * mass }
}

/**
 * Added mass of an ellipsoid in endless water: along x and y as shares of the displaced mass, about z in m2 (added moment of inertia per displaced
 * mass). Half of it under a flat surface has the same factors.
 * @param a m, semi-axis along x, the longest of a and b; @param b m, along y; @param c m, along z
 */
export function ellipsoidFactors(a: number, b: number, c: number): AddedMass {
  const [a2, b2, c2] = [a * a, b * b, c * c]
  // alpha0 = abc int_0^inf dl / ((a^2 + l) sqrt((a^2 + l)(b^2 + l)(c^2 + l))), which is Carlson's R_D.
  const alpha = ((a * b * c * 2) / 3) * carlsonRd(b2, c2, a2)
  const beta = ((a * b * c * 2) / 3) * carlsonRd(a2, c2, b2)
  const apart = a2 - b2
  return {
    surge: alpha / (2 - alpha),
    sway: beta / (2 - beta),
    yaw: a === b ? 0 : (apart * apart * (beta - alpha)) / (5 * (2 * apart - (a2 + b2) * (beta - alpha))),
  }
}

/**
 * R_D(x, y, z) = 3/2 int_0^inf dt / (sqrt((t + x)(t + y)) (t + z)^(3/2)), by duplication.
 * Source: B. C. Carlson, "Numerical computation of real or complex elliptic integrals", Numerical Algorithms 10:13-26 (1995).
 */
function carlsonRd(x: number, y: number, z: number): number {
  const start = (x + y + 3 * z) / 5
  const widest = Math.max(Math.abs(start - x), Math.abs(start - y), Math.abs(start - z))
  // What the series leaves out is then below 1e-16 of the result.
  const enough = 600 * widest
  let [xn, yn, zn, mean] = [x, y, z, start]
  let power = 1
  let sum = 0
  while (power * enough > mean) {
    const [rx, ry, rz] = [Math.sqrt(xn), Math.sqrt(yn), Math.sqrt(zn)]
    const lambda = rx * (ry + rz) + ry * rz
    sum += power / (rz * (zn + lambda))
    power /= 4
    xn = (xn + lambda) / 4
    yn = (yn + lambda) / 4
    zn = (zn + lambda) / 4
    mean = (mean + lambda) / 4
  }
  const u = ((start - x) * power) / mean
  const v = ((start - y) * power) / mean
  const w = -(u + v) / 3
  const e2 = u * v - 6 * w * w
  const e3 = (3 * u * v - 8 * w * w) * w
  const e4 = 3 * (u * v - w * w) * w * w
  const e5 = u * v * w ** 3
  const series =
    1 - (3 * e2) / 14 + e3 / 6 + (9 * e2 * e2) / 88 - (3 * e4) / 22 - (9 * e2 * e3) / 52 + (3 * e5) / 26
  return (power * series) / mean ** 1.5 + 3 * sum
}
