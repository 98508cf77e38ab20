/**
 * The joint-space mass matrix by composite rigid bodies: everything beyond a joint is one body while that joint alone turns.
 * Source: "Efficient dynamic computer simulation of robotic mechanisms", M. W. Walker and a second author, ASME J. Dynamic Systems,
 * Measurement, and Control 104:205-211 (1982), third method.
 */
import { LINK, type Links, MASS, SHIFT, TILT } from './links.js'

/**
 * @param turns cosine and sine of each joint's angle with its offset, 2 n
 * @param out kg m2, n x n, both triangles
 */
export function massMatrix({ n, data, rotors }: Links, turns: Float64Array, out: Float64Array): void {
  // The composite body in the frame of link i: mass, first moment, second moments.
  let m = 0
  let hx = 0
  let hy = 0
  let hz = 0
  let xx = 0
  let yy = 0
  let zz = 0
  let xy = 0
  let xz = 0
  let yz = 0
  for (let i = n - 1; i >= 0; i--) {
    const k = i * LINK
    m += data[k + MASS]!
    hx += data[k + MASS + 1]!
    hy += data[k + MASS + 2]!
    hz += data[k + MASS + 3]!
    xx += data[k + MASS + 4]!
    yy += data[k + MASS + 5]!
    zz += data[k + MASS + 6]!
    xy += data[k + MASS + 7]!
    xz += data[k + MASS + 8]!
    yz += data[k + MASS + 9]!
    out[i * n + i] = xx + yy + rotors[i]!
    // Force and moment of 1 rad/s2 about this joint, handed down to the base.
    let fx = -hy
    let fy = hx
    let fz = 0
    let nx = -xz
    let ny = -yz
    let nz = xx + yy
    for (let j = i; j > 0; j--) {
      const l = j * LINK
      const cb = data[l + TILT]!
      const sb = data[l + TILT + 1]!
      const px = data[l + SHIFT]!
      const py = data[l + SHIFT + 1]!
      const pz = data[l + SHIFT + 2]!
      const c = turns[2 * j]!
      const s = turns[2 * j + 1]!
      const gy = s * fx + c * fy
      fx = c * fx - s * fy
      fy = cb * gy - sb * fz
      fz = sb * gy + cb * fz
      const my = s * nx + c * ny
      nx = c * nx - s * ny + py * fz - pz * fy
      ny = cb * my - sb * nz + pz * fx - px * fz
      nz = sb * my + cb * nz + px * fy - py * fx
      out[i * n + j - 1] = nz
      out[(j - 1) * n + i] = nz
    }
    if (i === 0) return
    // The composite into the frame before: through the turn about z,
    const c = turns[2 * i]!
    const s = turns[2 * i + 1]!
    const cc = c * c
    const ss = s * s
    const cs = c * s
    const bend = 2 * cs * xy
    const qx = cc * xx - bend + ss * yy
    const qy = ss * xx + bend + cc * yy
    const qxy = cs * (xx - yy) + (cc - ss) * xy
    const qxz = c * xz - s * yz
    const qyz = s * xz + c * yz
    const gx = c * hx - s * hy
    const gy = s * hx + c * hy
    // through the tilt about x,
    const cb = data[k + TILT]!
    const sb = data[k + TILT + 1]!
    const dip = 2 * cb * sb * qyz
    const ry = cb * cb * qy - dip + sb * sb * zz
    const rz = sb * sb * qy + dip + cb * cb * zz
    const ryz = cb * sb * (qy - zz) + (cb * cb - sb * sb) * qyz
    const rxy = cb * qxy - sb * qxz
    const rxz = sb * qxy + cb * qxz
    const dy = cb * gy - sb * hz
    const dz = sb * gy + cb * hz
    // and by the shift.
    const px = data[k + SHIFT]!
    const py = data[k + SHIFT + 1]!
    const pz = data[k + SHIFT + 2]!
    hx = gx + m * px
    hy = dy + m * py
    hz = dz + m * pz
    xx = qx + px * (gx + hx)
    yy = ry + py * (dy + hy)
    zz = rz + pz * (dz + hz)
    xy = rxy + gx * py + px * hy
    xz = rxz + gx * pz + px * hz
    yz = ryz + dy * pz + py * hz
  }
}
