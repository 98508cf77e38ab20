/**
 * Rigid transforms and bodies as files state them: plain tuples, for what is worked out once. Loops have flat arrays (motion/pose.ts).
 * Whether a body could exist at all: files/body.ts.
 */

export type Vector3 = readonly [number, number, number]

/** A frame in its parent: `at` in m, `turn` as roll, pitch, yaw in rad about the fixed axes x, y, z: R = Rz(yaw) Ry(pitch) Rx(roll). */
export interface Pose {
  readonly at: Vector3
  readonly turn: Vector3
}

/** A rigid body, in the frame of what carries it: of a link, that of its joint, which turns with it. */
export interface Body {
  /** kg */
  readonly mass: number
  /** m, centre of mass in that frame */
  readonly centre: Vector3
  /** kg m2 about the centre of mass, axes of that frame; products are the matrix's off-diagonal entries */
  readonly inertia: readonly [xx: number, yy: number, zz: number, xy: number, xz: number, yz: number]
}

/** Row by row. */
export type Matrix = readonly [number, number, number, number, number, number, number, number, number]

/** T_a_b: a point p of b is turn p + at in a; `at` in m. */
export interface Transform {
  readonly turn: Matrix
  readonly at: Vector3
}

export const IDENTITY: Transform = { turn: [1, 0, 0, 0, 1, 0, 0, 0, 1], at: [0, 0, 0] }

/** T of a frame in its parent, with R = Rz(yaw) Ry(pitch) Rx(roll): in rig files and in URDF files alike. */
export function transformOf({ at, turn: [roll, pitch, yaw] }: Pose): Transform {
  const [cr, sr] = [Math.cos(roll), Math.sin(roll)]
  const [cp, sp] = [Math.cos(pitch), Math.sin(pitch)]
  const [cy, sy] = [Math.cos(yaw), Math.sin(yaw)]
  // biome-ignore format: a matrix
  const turn: Matrix = [
    cy * cp, cy * sp * sr - sy * cr, cy * sp * cr + sy * sr,
    sy * cp, sy * sp * sr + cy * cr, sy * sp * cr - cy * sr,
    -sp, cp * sr, cp * cr,
  ]
  return { turn, at }
}

/**
 * The inverse of {@link transformOf}. Yaw first, then the rest of what it leaves: next to a pitch of a quarter turn yaw and roll
 * can each be anything, but with roll from the matrix turned back by this very yaw the two agree and nothing is lost.
 */
export function poseOf({ turn, at }: Transform): Pose {
  const [r00, r01, r02, r10, r11, r12, r20] = turn
  const yaw = Math.atan2(r10, r00)
  const [c, s] = [Math.cos(yaw), Math.sin(yaw)]
  const pitch = Math.atan2(-r20, c * r00 + s * r10)
  const roll = Math.atan2(s * r02 - c * r12, c * r11 - s * r01)
  // Plus zero: no file shall say "-0 rad".
  return { at, turn: [roll + 0, pitch + 0, yaw + 0] }
}

/** T_a_c of T_a_b and T_b_c. */
export function composed(a: Transform, b: Transform): Transform {
  return { turn: product(a.turn, b.turn), at: moved(a, b.at) }
}

function moved({ turn: r, at }: Transform, [x, y, z]: Vector3): Vector3 {
  return [
    r[0] * x + r[1] * y + r[2] * z + at[0],
    r[3] * x + r[4] * y + r[5] * z + at[1],
    r[6] * x + r[7] * y + r[8] * z + at[2],
  ]
}

function product(a: Matrix, b: Matrix): Matrix {
  const entry = (i: number, j: number) => a[i]! * b[j]! + a[i + 1]! * b[3 + j]! + a[i + 2]! * b[6 + j]!
  // biome-ignore format: a matrix
  return [
    entry(0, 0), entry(0, 1), entry(0, 2),
    entry(3, 0), entry(3, 1), entry(3, 2),
    entry(6, 0), entry(6, 1), entry(6, 2),
  ]
}

function transposed([a, b, c, d, e, f, g, h, i]: Matrix): Matrix {
  return [a, d, g, b, e, h, c, f, i]
}

/** A body of frame b in frame a: the centre is a point, the inertia a tensor, R I R^T. @param t T_a_b */
export function bodyIn(t: Transform, { mass, centre, inertia }: Body): Body {
  const [xx, yy, zz, xy, xz, yz] = inertia
  const own: Matrix = [xx, xy, xz, xy, yy, yz, xz, yz, zz]
  const turned = product(product(t.turn, own), transposed(t.turn))
  return {
    mass,
    centre: moved(t, centre),
    inertia: [turned[0], turned[4], turned[8], turned[1], turned[2], turned[5]],
  }
}

/**
 * Bodies of one frame that move as one. Parallel axes (Huygens and Steiner): each part's inertia about the common centre of
 * mass is its own and m (|d|^2 1 - d d^T), d from the common centre to the part's.
 * @param parts at least one
 */
export function joined(parts: readonly Body[]): Body {
  const sum = (of: (part: Body) => number) => parts.reduce((total, part) => total + of(part), 0)
  const mass = sum((part) => part.mass)
  const mean = (i: 0 | 1 | 2) => sum((part) => part.mass * part.centre[i]) / mass
  const centre: Vector3 = [mean(0), mean(1), mean(2)]
  const off = (part: Body, i: 0 | 1 | 2) => part.centre[i] - centre[i]
  const moment = (k: 0 | 1 | 2, i: 0 | 1 | 2, j: 0 | 1 | 2) =>
    sum((part) => part.inertia[k] + part.mass * (off(part, i) ** 2 + off(part, j) ** 2))
  const mixed = (k: 3 | 4 | 5, i: 0 | 1 | 2, j: 0 | 1 | 2) =>
    sum((part) => part.inertia[k] - part.mass * off(part, i) * off(part, j))
  return {
    mass,
    centre,
    inertia: [
      moment(0, 1, 2),
      moment(1, 0, 2),
      moment(2, 0, 1),
      mixed(3, 0, 1),
      mixed(4, 0, 2),
      mixed(5, 1, 2),
    ],
  }
}
