/**
 * Closest points of two straight segments, exact. A segment is six numbers of a flat array, in m: x, y, z of one end, then
 * of the other. A segment of no length is a point.
 *
 * Method: C. Ericson, "Real-Time Collision Detection" (2005), 5.1.9, closest points of two line segments (from memory):
 * the closest points of the two lines, with one parameter and then the other kept within its segment. The parameter on the
 * first line is taken from the cross product of the directions and not from the differences of dot products, which lose half
 * the digits where the segments are nearly parallel; where they are parallel any point of the first will do to begin with.
 */

/** Numbers of a segment. */
export const SEGMENT = 6
/** Numbers of a result: distance (m), then x, y, z of the closest point of the one and of the other (m). */
export const CLOSEST = 7
/** m2: a segment that is shorter than 1e-12 m is a point. */
const POINT = 1e-24

/**
 * @param a, i segment at a[i] on; @param b, j the other at b[j] on
 * @param out {@link CLOSEST} numbers
 */
export function betweenSegments(a: Float64Array, i: number, b: Float64Array, j: number, out: Float64Array) {
  const ax = a[i]!
  const ay = a[i + 1]!
  const az = a[i + 2]!
  const bx = b[j]!
  const by = b[j + 1]!
  const bz = b[j + 2]!
  // Directions u and v, and r from the second segment's beginning to the first's.
  const ux = a[i + 3]! - ax
  const uy = a[i + 4]! - ay
  const uz = a[i + 5]! - az
  const vx = b[j + 3]! - bx
  const vy = b[j + 4]! - by
  const vz = b[j + 5]! - bz
  const rx = ax - bx
  const ry = ay - by
  const rz = az - bz
  const uu = ux * ux + uy * uy + uz * uz
  const vv = vx * vx + vy * vy + vz * vz
  const ur = ux * rx + uy * ry + uz * rz
  const vr = vx * rx + vy * ry + vz * rz
  let s = 0
  let t = 0
  if (uu <= POINT) {
    if (vv > POINT) t = within(vr / vv)
  } else if (vv <= POINT) {
    s = within(-ur / uu)
  } else {
    const nx = uy * vz - uz * vy
    const ny = uz * vx - ux * vz
    const nz = ux * vy - uy * vx
    const nn = nx * nx + ny * ny + nz * nz
    if (nn > 0) {
      // s = ((b - a) x v) . n / n.n
      s = within(((vy * rz - vz * ry) * nx + (vz * rx - vx * rz) * ny + (vx * ry - vy * rx) * nz) / nn)
    }
    const uv = ux * vx + uy * vy + uz * vz
    t = (vr + s * uv) / vv
    if (t < 0) {
      t = 0
      s = within(-ur / uu)
    } else if (t > 1) {
      t = 1
      s = within((uv - ur) / uu)
    }
  }
  const px = ax + s * ux
  const py = ay + s * uy
  const pz = az + s * uz
  const qx = bx + t * vx
  const qy = by + t * vy
  const qz = bz + t * vz
  const dx = px - qx
  const dy = py - qy
  const dz = pz - qz
  out[0] = Math.sqrt(dx * dx + dy * dy + dz * dz)
  out[1] = px
  out[2] = py
  out[3] = pz
  out[4] = qx
  out[5] = qy
  out[6] = qz
}

function within(share: number): number {
  return Math.min(1, Math.max(0, share))
}
