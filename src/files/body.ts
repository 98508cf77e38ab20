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

/** A new body: one that is given in frame b, as frame a has it. @param pose T_a_b */
export function placed({ mass, centre, inertia }: Body, pose: Float64Array): Body {
  const [r00, r01, r02, r10, r11, r12, r20, r21, r22, x, y, z] = pose as unknown as number[]
  const rows = [
    [r00!, r01!, r02!],
    [r10!, r11!, r12!],
    [r20!, r21!, r22!],
  ] as const
  const dot = (a: Vector3, b: Vector3): number => a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
  const [xx, yy, zz, xy, xz, yz] = inertia
  const turned = rows.map((r): Vector3 => [dot([xx, xy, xz], r), dot([xy, yy, yz], r), dot([xz, yz, zz], r)])
  const entry = (i: number, j: number): number => dot(rows[i]!, turned[j]!)
  return {
    mass,
    centre: [x! + dot(rows[0], centre), y! + dot(rows[1], centre), z! + dot(rows[2], centre)],
    inertia: [entry(0, 0), entry(1, 1), entry(2, 2), entry(0, 1), entry(0, 2), entry(1, 2)],
  }
}

/** A new body: two of the same frame, fixed to each other. */
export function joined(a: Body, b: Body): Body {
  const mass = a.mass + b.mass
  const centre = [0, 1, 2].map((i) => (a.mass * a.centre[i]! + b.mass * b.centre[i]!) / mass)
  const moved = [a, b].map((body) => {
    const [x, y, z] = body.centre.map((c, i) => c - centre[i]!) as unknown as Vector3
    // Steiner's theorem.
    const apart = [y * y + z * z, x * x + z * z, x * x + y * y, -x * y, -x * z, -y * z]
    return body.inertia.map((own, i) => own + body.mass * apart[i]!)
  })
  const inertia = moved[0]!.map((x, i) => x + moved[1]![i]!)
  return { mass, centre: centre as unknown as Vector3, inertia: inertia as unknown as Body['inertia'] }
}
