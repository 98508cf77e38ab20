/**
 * Rigid-body dynamics of one arm: M(q) qdd + c(q, qd) + g(q) = tau + J(q)^T load.
 *
 * tau is what drives deliver to the joints; friction is apart (friction.ts), as it has no single value at standstill. Rotors
 * count with their inertia about their own joint; their gyroscopic moments are left out, as is usual with high gear ratios.
 *
 * A `load` is six numbers, what acts on the blade from outside (water on a blade, not the blade on the water): force x, y, z in N,
 * moment x, y, z in N m about the blade's centre, craft frame; or null for none.
 *
 * Sources: J. Y. S. Luh, M. W. Walker, R. P. C. Paul, "On-line computational scheme for mechanical manipulators", ASME J.
 * Dynamic Systems, Measurement, and Control 102:69-76 (1980), the recursion; C. A. Balafoutis, R. V. Patel, P. Misra, "Efficient
 * modeling and computation of manipulator dynamics using orthogonal Cartesian tensors", IEEE J. Robotics and Automation
 * 4(6):665-676 (1988), the tensor of angular acceleration that links and bodies share.
 */
import type { Vector3 } from '../files/rig.js'
import { factor, solve } from './cholesky.js'
import { GRAVITY } from './gravity.js'
import { inTurned, LINK, type Links, MASS, OFFSET, SHIFT, TILT } from './links.js'
import { massMatrix } from './mass-matrix.js'

/** m/s2, craft frame of a level craft. */
const FREE_FALL: Vector3 = [0, 0, -GRAVITY]

export class Dynamics {
  readonly n: number
  readonly #links: Links
  /** Cosine and sine of each joint, as last turned. */
  readonly #turns: Float64Array
  /** Force (N) and moment about the frame's origin (N m) that move each link, in its own frame. */
  readonly #efforts: Float64Array
  /** The load in the last link's frame, about its origin. */
  readonly #tip = new Float64Array(6)
  readonly #rest: Float64Array
  readonly #mass: Float64Array
  #gravity: Vector3 = FREE_FALL
  /** The same in the frame that the first joint stands in. */
  #falling: Vector3

  /** At standard gravity, straight down, until another is set. */
  constructor(links: Links) {
    const n = links.n
    this.n = n
    this.#links = links
    this.#turns = new Float64Array(2 * n)
    this.#efforts = new Float64Array(6 * n)
    this.#rest = new Float64Array(n)
    this.#mass = new Float64Array(n * n)
    this.#falling = inTurned(FREE_FALL, links.heading)
  }

  /** m/s2, craft frame. */
  get gravity(): Vector3 {
    return this.#gravity
  }

  set gravity(gravity: Vector3) {
    this.#gravity = gravity
    this.#falling = inTurned(gravity, this.#links.heading)
  }

  /**
   * Inverse dynamics: the torques that this motion takes.
   * @param q rad @param qd rad/s @param qdd rad/s2; n each
   * @param load as above, or null
   * @param out N m, n; none of the others
   */
  inverse(
    q: Float64Array,
    qd: Float64Array,
    qdd: Float64Array,
    load: Float64Array | null,
    out: Float64Array,
  ): void {
    this.#turn(q)
    if (load === null) this.#tip.fill(0)
    else this.#bear(load)
    this.#outwards(qd, qdd)
    this.#inwards(qdd, out)
  }

  /** The torques that hold the arm still against gravity alone. @param q rad, n @param out N m, n */
  hold(q: Float64Array, out: Float64Array): void {
    this.inverse(q, this.#rest, this.#rest, null, out)
  }

  /** The joint-space mass matrix with rotors. @param q rad, n @param out kg m2, n x n, both triangles */
  mass(q: Float64Array, out: Float64Array): void {
    this.#turn(q)
    massMatrix(this.#links, this.#turns, out)
  }

  /**
   * Forward dynamics: the motion that these torques lead to. Every body must be physical (body.ts), or M may be singular.
   * @param q rad @param qd rad/s @param tau N m, friction taken off; n each
   * @param load as above, or null
   * @param out rad/s2, n; none of the others
   */
  forward(
    q: Float64Array,
    qd: Float64Array,
    tau: Float64Array,
    load: Float64Array | null,
    out: Float64Array,
  ): void {
    const n = this.n
    this.inverse(q, qd, this.#rest, load, out)
    for (let i = 0; i < n; i++) out[i] = tau[i]! - out[i]!
    massMatrix(this.#links, this.#turns, this.#mass)
    factor(this.#mass, n)
    solve(this.#mass, n, out)
  }

  /**
   * What the arm with its rotors has in it, from the bodies' own speeds and heights.
   * @param q rad @param qd rad/s; n each
   * @param out J, two numbers: kinetic; potential, zero with every mass at the craft frame's origin
   */
  energy(q: Float64Array, qd: Float64Array, out: Float64Array): void {
    this.#turn(q)
    const n = this.n
    const { data, rotors } = this.#links
    const turns = this.#turns
    let [gx, gy, gz] = this.#falling
    // Speeds of the frame, turning and going, and its height times gravity.
    let [wx, wy, wz, vx, vy, vz, high] = [0, 0, 0, 0, 0, 0, 0]
    let [kinetic, potential] = [0, 0]
    for (let i = 0; i < n; i++) {
      const k = i * LINK
      const [cb, sb] = [data[k + TILT]!, data[k + TILT + 1]!]
      const [px, py, pz] = [data[k + SHIFT]!, data[k + SHIFT + 1]!, data[k + SHIFT + 2]!]
      const [c, s] = [turns[2 * i]!, turns[2 * i + 1]!]
      high -= gx * px + gy * py + gz * pz
      vx += wy * pz - wz * py
      vy += wz * px - wx * pz
      vz += wx * py - wy * px
      let y = cb * gy + sb * gz
      gz = cb * gz - sb * gy
      gy = c * y - s * gx
      gx = c * gx + s * y
      y = cb * wy + sb * wz
      wz = cb * wz - sb * wy + qd[i]!
      wy = c * y - s * wx
      wx = c * wx + s * y
      y = cb * vy + sb * vz
      vz = cb * vz - sb * vy
      vy = c * y - s * vx
      vx = c * vx + s * y
      const m = data[k + MASS]!
      const [hx, hy, hz] = [data[k + MASS + 1]!, data[k + MASS + 2]!, data[k + MASS + 3]!]
      const [xx, yy, zz] = [data[k + MASS + 4]!, data[k + MASS + 5]!, data[k + MASS + 6]!]
      const [xy, xz, yz] = [data[k + MASS + 7]!, data[k + MASS + 8]!, data[k + MASS + 9]!]
      potential += m * high - gx * hx - gy * hy - gz * hz
      kinetic +=
        (m * (vx * vx + vy * vy + vz * vz)) / 2 +
        (vx * (wy * hz - wz * hy) + vy * (wz * hx - wx * hz) + vz * (wx * hy - wy * hx)) +
        (wx * wx * (yy + zz) + wy * wy * (xx + zz) + wz * wz * (xx + yy)) / 2 -
        (wx * wy * xy + wx * wz * xz + wy * wz * yz) +
        (rotors[i]! * qd[i]! * qd[i]!) / 2
    }
    out[0] = kinetic
    out[1] = potential
  }

  #turn(q: Float64Array): void {
    const n = this.n
    const data = this.#links.data
    const turns = this.#turns
    for (let i = 0; i < n; i++) {
      const angle = q[i]! + data[i * LINK + OFFSET]!
      turns[2 * i] = Math.cos(angle)
      turns[2 * i + 1] = Math.sin(angle)
    }
  }

  /** From base to tip: each link's motion, and the force and moment that it takes. */
  #outwards(qd: Float64Array, qdd: Float64Array): void {
    const n = this.n
    const data = this.#links.data
    const turns = this.#turns
    const efforts = this.#efforts
    const falling = this.#falling
    // Angular velocity; the tensor U of angular acceleration (a point r of the link accelerates by U r more than the frame's
    // origin); angular acceleration; acceleration of the origin. A base that accelerates upwards stands for gravity.
    let wx = 0
    let wy = 0
    let wz = 0
    let u00 = 0
    let u01 = 0
    let u02 = 0
    let u10 = 0
    let u11 = 0
    let u12 = 0
    let u20 = 0
    let u21 = 0
    let u22 = 0
    let ex = 0
    let ey = 0
    let ez = 0
    let ax = -falling[0]
    let ay = -falling[1]
    let az = -falling[2]
    for (let i = 0; i < n; i++) {
      const k = i * LINK
      const cb = data[k + TILT]!
      const sb = data[k + TILT + 1]!
      const px = data[k + SHIFT]!
      const py = data[k + SHIFT + 1]!
      const pz = data[k + SHIFT + 2]!
      const c = turns[2 * i]!
      const s = turns[2 * i + 1]!
      const speed = qd[i]!
      // To this joint's place, through its tilt, through its turn.
      const bx = ax + u00 * px + u01 * py + u02 * pz
      const by = ay + u10 * px + u11 * py + u12 * pz
      const bz = az + u20 * px + u21 * py + u22 * pz
      const ty = cb * by + sb * bz
      ax = c * bx + s * ty
      ay = c * ty - s * bx
      az = cb * bz - sb * by
      const vy = cb * wy + sb * wz
      const vz = cb * wz - sb * wy
      const vx = wx
      wx = c * vx + s * vy
      wy = c * vy - s * vx
      wz = vz + speed
      const fy = cb * ey + sb * ez
      const fz = cb * ez - sb * ey
      const fx = ex
      ex = c * fx + s * fy + wy * speed
      ey = c * fy - s * fx - wx * speed
      ez = fz + qdd[i]!
      const xy = wx * wy
      const xz = wx * wz
      const yz = wy * wz
      const xx = wx * wx
      const yy = wy * wy
      const zz = wz * wz
      u00 = -yy - zz
      u01 = xy - ez
      u02 = xz + ey
      u10 = xy + ez
      u11 = -xx - zz
      u12 = yz - ex
      u20 = xz - ey
      u21 = yz + ex
      u22 = -xx - yy
      const m = data[k + MASS]!
      const hx = data[k + MASS + 1]!
      const hy = data[k + MASS + 2]!
      const hz = data[k + MASS + 3]!
      const sxx = data[k + MASS + 4]!
      const syy = data[k + MASS + 5]!
      const szz = data[k + MASS + 6]!
      const sxy = data[k + MASS + 7]!
      const sxz = data[k + MASS + 8]!
      const syz = data[k + MASS + 9]!
      const e = 6 * i
      efforts[e] = m * ax + u00 * hx + u01 * hy + u02 * hz
      efforts[e + 1] = m * ay + u10 * hx + u11 * hy + u12 * hz
      efforts[e + 2] = m * az + u20 * hx + u21 * hy + u22 * hz
      // Integral of r x (a + U r) dm: h x a, and the antisymmetric part of U S.
      efforts[e + 3] =
        hy * az - hz * ay + u20 * sxy + u21 * syy + u22 * syz - u10 * sxz - u11 * syz - u12 * szz
      efforts[e + 4] =
        hz * ax - hx * az + u00 * sxz + u01 * syz + u02 * szz - u20 * sxx - u21 * sxy - u22 * sxz
      efforts[e + 5] =
        hx * ay - hy * ax + u10 * sxx + u11 * sxy + u12 * sxz - u00 * sxy - u01 * syy - u02 * syz
    }
  }

  /** From tip to base: what each joint passes on, and its share about its own axis. */
  #inwards(qdd: Float64Array, out: Float64Array): void {
    const { data, rotors } = this.#links
    const turns = this.#turns
    const efforts = this.#efforts
    const tip = this.#tip
    let fx = -tip[0]!
    let fy = -tip[1]!
    let fz = -tip[2]!
    let nx = -tip[3]!
    let ny = -tip[4]!
    let nz = -tip[5]!
    for (let i = this.n - 1; i >= 0; i--) {
      const e = 6 * i
      fx += efforts[e]!
      fy += efforts[e + 1]!
      fz += efforts[e + 2]!
      nx += efforts[e + 3]!
      ny += efforts[e + 4]!
      nz += efforts[e + 5]!
      out[i] = nz + rotors[i]! * qdd[i]!
      const k = i * LINK
      const cb = data[k + TILT]!
      const sb = data[k + TILT + 1]!
      const px = data[k + SHIFT]!
      const py = data[k + SHIFT + 1]!
      const pz = data[k + SHIFT + 2]!
      const c = turns[2 * i]!
      const s = turns[2 * i + 1]!
      const gy = s * fx + c * fy
      fx = c * fx - s * fy
      fy = cb * gy - sb * fz
      fz = sb * gy + cb * fz
      const my = s * nx + c * ny
      nx = c * nx - s * ny + py * fz - pz * fy
      ny = cb * my - sb * nz + pz * fx - px * fz
      nz = sb * my + cb * nz + px * fy - py * fx
    }
  }

  /** The load from the craft's frame into the last link's, and about its origin. */
  #bear(load: Float64Array): void {
    const { n, data, heading, blade } = this.#links
    const turns = this.#turns
    const tip = this.#tip
    const [c0, s0] = [Math.cos(heading), Math.sin(heading)]
    for (let v = 0; v < 6; v += 3) {
      let x = c0 * load[v]! + s0 * load[v + 1]!
      let y = c0 * load[v + 1]! - s0 * load[v]!
      let z = load[v + 2]!
      for (let i = 0; i < n; i++) {
        const k = i * LINK + TILT
        const [cb, sb] = [data[k]!, data[k + 1]!]
        const [c, s] = [turns[2 * i]!, turns[2 * i + 1]!]
        const t = cb * y + sb * z
        z = cb * z - sb * y
        y = c * t - s * x
        x = c * x + s * t
      }
      tip[v] = x
      tip[v + 1] = y
      tip[v + 2] = z
    }
    tip[3] = tip[3]! + blade[1] * tip[2]! - blade[2] * tip[1]!
    tip[4] = tip[4]! + blade[2] * tip[0]! - blade[0] * tip[2]!
    tip[5] = tip[5]! + blade[0] * tip[1]! - blade[1] * tip[0]!
  }
}
