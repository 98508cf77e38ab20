/**
 * Poses as 12 numbers in a Float64Array: the rotation matrix row by row (0..8), then the position in m (9..11).
 * The functions write to a given array and allocate nothing, apart from the ones that say so.
 */
import type { Pose, Vector3 } from '../files/rig.js'
import { transformOf } from '../rigid.js'

/** Numbers of a pose. */
export const POSE = 12
/** Trace of a rotation by 1/32 rad. */
const NEARLY_THREE = 3 - 1 / 1024

/** A new identity pose. */
export function identity(): Float64Array {
  const t = new Float64Array(POSE)
  t[0] = t[4] = t[8] = 1
  return t
}

/** A new pose from a file's position and fixed-axis angles: R = Rz(yaw) Ry(pitch) Rx(roll). */
export function poseOf(pose: Pose): Float64Array {
  const { turn, at } = transformOf(pose)
  return Float64Array.of(...turn, ...at)
}

/** out = a b; `out` must be neither. */
export function multiply(a: Float64Array, b: Float64Array, out: Float64Array): void {
  for (let i = 0; i < 3; i++) {
    const a0 = a[3 * i]!
    const a1 = a[3 * i + 1]!
    const a2 = a[3 * i + 2]!
    for (let j = 0; j < 3; j++) out[3 * i + j] = a0 * b[j]! + a1 * b[3 + j]! + a2 * b[6 + j]!
    out[9 + i] = a0 * b[9]! + a1 * b[10]! + a2 * b[11]! + a[9 + i]!
  }
}

/**
 * A new pose whose rotation turns z onto the unit vector `axis`; position zero. Next to -z by way of half a turn about x.
 * Source: T. Moller, J. F. Hughes, "Efficiently building a matrix to rotate one vector to another", J. Graphics Tools 4(4):1-4
 * (1999), for one of them along z (from memory).
 */
export function zOnto(axis: Vector3): Float64Array {
  const [x, y, z] = axis
  const t = identity()
  if (z < -0.5) {
    // Half a turn about x first, then from there: the formula below fails at z = -1.
    const k = 1 / (1 - z)
    t.set([1 - k * x * x, k * x * y, x, -k * x * y, k * y * y - 1, y, x, -y, z])
    return t
  }
  const k = 1 / (1 + z)
  t.set([1 - k * x * x, -k * x * y, x, -k * x * y, 1 - k * y * y, y, -x, -y, z])
  return t
}

/** A new pose: the inverse of a pure rotation. */
export function turnedBack(t: Float64Array): Float64Array {
  const [a, b, c, d, e, f, g, h, i] = t as unknown as number[]
  return Float64Array.of(a!, d!, g!, b!, e!, h!, c!, f!, i!, 0, 0, 0)
}

/**
 * The rotation vector (axis times angle, rad, 0..pi long) that turns `from` into `to`, in the parent's frame:
 * log(R_to R_from^T). By way of the unit quaternion, so that it is exact near half a turn.
 * Source: S. W. Shepperd, "Quaternion from rotation matrix", J. Guidance and Control 1(3):223-224 (1978).
 *
 * @param out three numbers
 */
export function rotationBetween(from: Float64Array, to: Float64Array, out: Float64Array): void {
  const m00 = to[0]! * from[0]! + to[1]! * from[1]! + to[2]! * from[2]!
  const m01 = to[0]! * from[3]! + to[1]! * from[4]! + to[2]! * from[5]!
  const m02 = to[0]! * from[6]! + to[1]! * from[7]! + to[2]! * from[8]!
  const m10 = to[3]! * from[0]! + to[4]! * from[1]! + to[5]! * from[2]!
  const m11 = to[3]! * from[3]! + to[4]! * from[4]! + to[5]! * from[5]!
  const m12 = to[3]! * from[6]! + to[4]! * from[7]! + to[5]! * from[8]!
  const m20 = to[6]! * from[0]! + to[7]! * from[1]! + to[8]! * from[2]!
  const m21 = to[6]! * from[3]! + to[7]! * from[4]! + to[8]! * from[5]!
  const m22 = to[6]! * from[6]! + to[7]! * from[7]! + to[8]! * from[8]!
  let w: number
  let x: number
  let y: number
  let z: number
  const trace = m00 + m11 + m22
  if (trace > NEARLY_THREE) {
    // A small turn: the antisymmetric part is its sine along the axis, and arcsin s / s a short series.
    const sx = (m21 - m12) / 2
    const sy = (m02 - m20) / 2
    const sz = (m10 - m01) / 2
    const square = sx * sx + sy * sy + sz * sz
    const scale = 1 + square * (1 / 6 + square * (3 / 40 + square * (5 / 112 + (square * 35) / 1152)))
    out[0] = scale * sx
    out[1] = scale * sy
    out[2] = scale * sz
    return
  }
  if (trace > 0) {
    const s = 2 * Math.sqrt(1 + trace)
    w = s / 4
    x = (m21 - m12) / s
    y = (m02 - m20) / s
    z = (m10 - m01) / s
  } else if (m00 >= m11 && m00 >= m22) {
    const s = 2 * Math.sqrt(1 + m00 - m11 - m22)
    w = (m21 - m12) / s
    x = s / 4
    y = (m01 + m10) / s
    z = (m02 + m20) / s
  } else if (m11 >= m22) {
    const s = 2 * Math.sqrt(1 - m00 + m11 - m22)
    w = (m02 - m20) / s
    x = (m01 + m10) / s
    y = s / 4
    z = (m12 + m21) / s
  } else {
    const s = 2 * Math.sqrt(1 - m00 - m11 + m22)
    w = (m10 - m01) / s
    x = (m02 + m20) / s
    y = (m12 + m21) / s
    z = s / 4
  }
  if (w < 0) {
    w = -w
    x = -x
    y = -y
    z = -z
  }
  const sine = Math.sqrt(x * x + y * y + z * z)
  const scale = sine < 1e-8 ? 2 / w : (2 * Math.atan2(sine, w)) / sine
  out[0] = scale * x
  out[1] = scale * y
  out[2] = scale * z
}

/** a x b, a new vector. */
export function cross(a: Vector3, b: Vector3): Vector3 {
  return [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]]
}
