/**
 * The Jacobian of an arm with six joints, inverted by blocks of three joints each; allocation-free.
 *
 * Of the blade's twist, the velocity is taken at the last joint's origin, where joint 6 adds nothing to it, and often 4 and 5 neither:
 *
 *     [v]   [A  B] [dq 1..3]
 *     [w] = [C  D] [dq 4..6]        dq 1..3 = (A - B D^-1 C)^-1 (v - B D^-1 w),  dq 4..6 = D^-1 (w - C dq 1..3)
 *
 * A column of the lower blocks is a joint's axis, so that D^-1 has the cross products of three axes in its rows. Source: the Schur
 * complement, G. H. Golub, C. F. Van Loan, "Matrix Computations", 4th ed. (2013), 3.2.11. It costs a third of a general
 * solution. Where the last three axes are nearly in one plane, or the whole is nearly singular, it says so, and somebody else must do it.
 */
import type { Chain } from './chain.js'

/** Volume that the last three axes span, and that of the complement's columns over `Chain.scale` cubed: below it digits are lost. */
const LEAST = 1e-3

export class SixJoints {
  readonly #chain: Chain
  /** m, from the last joint's origin to the blade's centre */
  #x = 0
  #y = 0
  #z = 0
  /** B, D^-1, D^-1 C and the inverse of the complement, row by row. */
  readonly #b = new Float64Array(9)
  readonly #d = new Float64Array(9)
  readonly #dc = new Float64Array(9)
  readonly #s = new Float64Array(9)

  /** @param chain of six joints */
  constructor(chain: Chain) {
    this.#chain = chain
  }

  /** Takes the chain's pose. @returns false: this way does not do there */
  take(): boolean {
    const { axes, origins: points, blade, scale } = this.#chain
    const b = this.#b
    const d = this.#d
    const dc = this.#dc
    const s = this.#s
    const rx = points[15]!
    const ry = points[16]!
    const rz = points[17]!
    this.#x = blade[9]! - rx
    this.#y = blade[10]! - ry
    this.#z = blade[11]! - rz
    const ux = axes[9]!
    const uy = axes[10]!
    const uz = axes[11]!
    const vx = axes[12]!
    const vy = axes[13]!
    const vz = axes[14]!
    const wx = axes[15]!
    const wy = axes[16]!
    const wz = axes[17]!
    // D^-1: its rows are v x w, w x u, u x v over the volume.
    const n0 = vy * wz - vz * wy
    const n1 = vz * wx - vx * wz
    const n2 = vx * wy - vy * wx
    const volume = ux * n0 + uy * n1 + uz * n2
    if (!(Math.abs(volume) > LEAST)) return false
    const f = 1 / volume
    const d0 = f * n0
    const d1 = f * n1
    const d2 = f * n2
    const d3 = f * (wy * uz - wz * uy)
    const d4 = f * (wz * ux - wx * uz)
    const d5 = f * (wx * uy - wy * ux)
    const d6 = f * (uy * vz - uz * vy)
    const d7 = f * (uz * vx - ux * vz)
    const d8 = f * (ux * vy - uy * vx)
    d[0] = d0
    d[1] = d1
    d[2] = d2
    d[3] = d3
    d[4] = d4
    d[5] = d5
    d[6] = d6
    d[7] = d7
    d[8] = d8
    // B: the third column is zero.
    let px = rx - points[9]!
    let py = ry - points[10]!
    let pz = rz - points[11]!
    const b0 = uy * pz - uz * py
    const b3 = uz * px - ux * pz
    const b6 = ux * py - uy * px
    px = rx - points[12]!
    py = ry - points[13]!
    pz = rz - points[14]!
    const b1 = vy * pz - vz * py
    const b4 = vz * px - vx * pz
    const b7 = vx * py - vy * px
    b[0] = b0
    b[1] = b1
    b[3] = b3
    b[4] = b4
    b[6] = b6
    b[7] = b7
    // Column by column: D^-1 C, and with it the complement, whose columns go to s for now.
    for (let i = 0; i < 3; i++) {
      const k = 3 * i
      const ax = axes[k]!
      const ay = axes[k + 1]!
      const az = axes[k + 2]!
      const c0 = d0 * ax + d1 * ay + d2 * az
      const c1 = d3 * ax + d4 * ay + d5 * az
      dc[i] = c0
      dc[3 + i] = c1
      dc[6 + i] = d6 * ax + d7 * ay + d8 * az
      px = rx - points[k]!
      py = ry - points[k + 1]!
      pz = rz - points[k + 2]!
      s[k] = ay * pz - az * py - b0 * c0 - b1 * c1
      s[k + 1] = az * px - ax * pz - b3 * c0 - b4 * c1
      s[k + 2] = ax * py - ay * px - b6 * c0 - b7 * c1
    }
    return this.#turnOver(scale)
  }

  /** The complement from its columns to its inverse. */
  #turnOver(scale: number): boolean {
    const s = this.#s
    const ux = s[0]!
    const uy = s[1]!
    const uz = s[2]!
    const vx = s[3]!
    const vy = s[4]!
    const vz = s[5]!
    const wx = s[6]!
    const wy = s[7]!
    const wz = s[8]!
    const n0 = vy * wz - vz * wy
    const n1 = vz * wx - vx * wz
    const n2 = vx * wy - vy * wx
    const volume = ux * n0 + uy * n1 + uz * n2
    if (!(Math.abs(volume) > LEAST * scale * scale * scale)) return false
    const f = 1 / volume
    s[0] = f * n0
    s[1] = f * n1
    s[2] = f * n2
    s[3] = f * (wy * uz - wz * uy)
    s[4] = f * (wz * ux - wx * uz)
    s[5] = f * (wx * uy - wy * ux)
    s[6] = f * (uy * vz - uz * vy)
    s[7] = f * (uz * vx - ux * vz)
    s[8] = f * (ux * vy - uy * vx)
    return true
  }

  /**
   * Joint motion for a twist of the blade, at the pose that was taken.
   * @param twist six numbers, craft frame: of the blade's centre (m) and of the blade (rad)
   * @param out rad, six
   */
  solve(twist: Float64Array, out: Float64Array): void {
    const b = this.#b
    const d = this.#d
    const dc = this.#dc
    const s = this.#s
    const wx = twist[3]!
    const wy = twist[4]!
    const wz = twist[5]!
    const t0 = d[0]! * wx + d[1]! * wy + d[2]! * wz
    const t1 = d[3]! * wx + d[4]! * wy + d[5]! * wz
    const t2 = d[6]! * wx + d[7]! * wy + d[8]! * wz
    // v - w x r, the velocity where the last joint is, less what the last three give of it.
    const vx = twist[0]! - wy * this.#z + wz * this.#y - b[0]! * t0 - b[1]! * t1
    const vy = twist[1]! - wz * this.#x + wx * this.#z - b[3]! * t0 - b[4]! * t1
    const vz = twist[2]! - wx * this.#y + wy * this.#x - b[6]! * t0 - b[7]! * t1
    const q0 = s[0]! * vx + s[1]! * vy + s[2]! * vz
    const q1 = s[3]! * vx + s[4]! * vy + s[5]! * vz
    const q2 = s[6]! * vx + s[7]! * vy + s[8]! * vz
    out[0] = q0
    out[1] = q1
    out[2] = q2
    out[3] = t0 - dc[0]! * q0 - dc[1]! * q1 - dc[2]! * q2
    out[4] = t1 - dc[3]! * q0 - dc[4]! * q1 - dc[5]! * q2
    out[5] = t2 - dc[6]! * q0 - dc[7]! * q1 - dc[8]! * q2
  }

  /** Sum of squares of the inverse Jacobian, metres divided by `Chain.scale`: trace (J J^T)^-1. */
  inverseTrace(): number {
    const b = this.#b
    const d = this.#d
    const dc = this.#dc
    const s = this.#s
    const x = this.#x
    const y = this.#y
    const z = this.#z
    let [lin, turn] = [0, 0]
    // B D^-1, and with it minus what w does to v: [-r]x. The columns for w are then S^-1 times that, and so on.
    const m0 = b[0]! * d[0]! + b[1]! * d[3]!
    const m1 = b[0]! * d[1]! + b[1]! * d[4]! + z
    const m2 = b[0]! * d[2]! + b[1]! * d[5]! - y
    const m3 = b[3]! * d[0]! + b[4]! * d[3]! - z
    const m4 = b[3]! * d[1]! + b[4]! * d[4]!
    const m5 = b[3]! * d[2]! + b[4]! * d[5]! + x
    const m6 = b[6]! * d[0]! + b[7]! * d[3]! + y
    const m7 = b[6]! * d[1]! + b[7]! * d[4]! - x
    const m8 = b[6]! * d[2]! + b[7]! * d[5]!
    for (let i = 0; i < 9; i += 3) {
      // A row of the inverse: of joint 1..3, then of joint 4..6.
      let e0 = s[i]!
      let e1 = s[i + 1]!
      let e2 = s[i + 2]!
      let g0 = -(e0 * m0 + e1 * m3 + e2 * m6)
      let g1 = -(e0 * m1 + e1 * m4 + e2 * m7)
      let g2 = -(e0 * m2 + e1 * m5 + e2 * m8)
      lin += e0 * e0 + e1 * e1 + e2 * e2
      turn += g0 * g0 + g1 * g1 + g2 * g2
      const c0 = dc[i]!
      const c1 = dc[i + 1]!
      const c2 = dc[i + 2]!
      e0 = c0 * s[0]! + c1 * s[3]! + c2 * s[6]!
      e1 = c0 * s[1]! + c1 * s[4]! + c2 * s[7]!
      e2 = c0 * s[2]! + c1 * s[5]! + c2 * s[8]!
      g0 = d[i]! + e0 * m0 + e1 * m3 + e2 * m6
      g1 = d[i + 1]! + e0 * m1 + e1 * m4 + e2 * m7
      g2 = d[i + 2]! + e0 * m2 + e1 * m5 + e2 * m8
      lin += e0 * e0 + e1 * e1 + e2 * e2
      turn += g0 * g0 + g1 * g1 + g2 * g2
    }
    const { scale } = this.#chain
    return lin * scale * scale + turn
  }
}
