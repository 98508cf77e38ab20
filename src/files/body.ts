/** Whether a link with this mass and inertia could exist at all. */
import type { Body } from './rig.js'

/** Rounding of doubles, with room: a thin plate's moments meet the triangle inequality with equality. */
const ROUNDING = 1e-9

/**
 * Why no real thing has this mass and inertia, or null when one may. A body is physical when its mass is positive, its inertia
 * positive definite, and no principal moment larger than the other two together: each is an integral of two squares, of
 * which the other two hold one each.
 */
export function whyUnphysical({ mass, centre, inertia }: Body): string | null {
  if (![mass, ...centre, ...inertia].every(Number.isFinite)) return 'a number of it is not finite'
  if (mass <= 0) return `its mass is ${mass} kg; a body's mass is positive`
  const [least, middle, most] = principalMoments(inertia)
  const moments = [least, middle, most].map((x) => Number(x.toPrecision(4))).join(', ')
  if (least <= ROUNDING * Math.abs(most))
    return `its principal moments of inertia are ${moments} kg m2; all three are positive`
  if (most > (1 + ROUNDING) * (least + middle))
    return `its principal moments of inertia are ${moments} kg m2; the largest cannot exceed the sum of the other two`
  return null
}

/**
 * Eigenvalues of the inertia matrix, rising.
 * Source: O. K. Smith, "Eigenvalues of a symmetric 3 x 3 matrix", Communications of the ACM 4(4):168 (1961).
 */
function principalMoments([xx, yy, zz, xy, xz, yz]: Body['inertia']): [number, number, number] {
  const mean = (xx + yy + zz) / 3
  const [a, b, c] = [xx - mean, yy - mean, zz - mean]
  const spread = Math.sqrt((a * a + b * b + c * c + 2 * (xy * xy + xz * xz + yz * yz)) / 6)
  if (spread === 0) return [mean, mean, mean]
  const determinant = a * (b * c - yz * yz) - xy * (xy * c - yz * xz) + xz * (xy * yz - b * xz)
  const third = Math.acos(Math.min(1, Math.max(-1, determinant / (2 * spread ** 3)))) / 3
  const most = mean + 2 * spread * Math.cos(third)
  const least = mean + 2 * spread * Math.cos(third + (2 * Math.PI) / 3)
  return [least, 3 * mean - least - most, most]
}
