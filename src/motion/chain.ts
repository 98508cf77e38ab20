/**
 * Forward kinematics and the geometric Jacobian of one arm, allocation-free.
 *
 * Every joint is rewritten once as a turn about z: with B_i turning z onto the joint's axis, the fixed part before it
 * becomes B_(i-1)^T origin_i B_i. The rotation of that is a turn about z, a tilt about x and another turn about z (Euler); both turns
 * are taken into the angles of the joints before and behind, as in links.ts. A joint then costs a turn of two columns, a tilt
 * of two and a shift, and its axis is the third column. The base pose comes before the first joint, so that all results are
 * in the craft frame. Column i of the geometric Jacobian is (axis x (blade - point), axis), as in B. Siciliano, L. Sciavicco, L.
 * Villani, G. Oriolo, "Robotics: Modelling, Planning and Control" (2009), 3.1.3 (from memory).
 */
import type { Arm, Pose, Vector3 } from '../files/rig.js'
import { eulerAngles, inTurned, multiply, POSE, poseOf, turnedBack, zOnto } from './pose.js'

const JOINT = 6
/** rad2: below it four terms of the power series leave out less than the last digit. */
const SMALL = 1 / 1024

export class Chain {
  /** Number of joints. */
  readonly n: number
  /** T_craft_blade of the last `forward`. */
  readonly blade: Float64Array = new Float64Array(POSE)
  /** m: half the way along the links from the second joint to the blade's centre; makes metres and radians comparable. */
  readonly scale: number
  /** T_craft of the first joint at position zero, and the blade's pose in the last joint's frame. */
  readonly #base: Float64Array
  readonly #tool: Float64Array
  /** JOINT numbers a joint: what is added to its position (rad), then what leads to the next one: cosine and sine of a tilt about x, and a shift (m). */
  readonly #joints: Float64Array
  /** Cosine and sine of each joint's angle. */
  readonly #turns: Float64Array
  /** Joint axes (unit) and points on them (m), craft frame, three numbers a joint. */
  readonly #axes: Float64Array
  readonly #points: Float64Array

  /** @param joints from base to tip: origin in the parent at position zero, and the unit axis in the joint's own frame */
  constructor(arm: Pick<Arm, 'base' | 'tool'>, joints: readonly { origin: Pose; axis: Vector3 }[]) {
    const n = joints.length
    this.n = n
    this.#base = new Float64Array(POSE)
    this.#tool = new Float64Array(POSE)
    this.#joints = new Float64Array(n * JOINT)
    this.#turns = new Float64Array(2 * n)
    this.#axes = new Float64Array(3 * n)
    this.#points = new Float64Array(3 * n)
    let before = poseOf(arm.base)
    let last = 0
    const a = new Float64Array(POSE)
    const fixed = new Float64Array(POSE)
    joints.forEach(({ origin, axis }, i) => {
      const turn = zOnto(axis)
      multiply(before, poseOf(origin), a)
      multiply(a, turn, fixed)
      before = turnedBack(turn)
      if (i === 0) {
        this.#base.set(fixed)
        return
      }
      const angles = eulerAngles(fixed)
      const at = (i - 1) * JOINT
      this.#joints[at] = last + angles.first
      this.#joints.set([angles.cos, angles.sin, ...inTurned(fixed.subarray(9), angles.first)], at + 1)
      last = angles.last
    })
    this.#joints[(n - 1) * JOINT] = last
    this.#joints[(n - 1) * JOINT + 1] = 1
    multiply(before, poseOf(arm.tool.pose), this.#tool)
    const links = [...joints.slice(1).map((j) => j.origin.at), arm.tool.pose.at]
    this.scale = links.reduce((sum, at) => sum + Math.hypot(...at), 0) / 2
  }

  /** Works out `blade` and the joint axes at joint positions `q` (rad, n of them). */
  forward(q: Float64Array): void {
    const joints = this.#joints
    const turns = this.#turns
    // Apart from the rest: a call in the midst of it would cost all that is held in registers.
    for (let i = 0; i < this.n; i++) {
      const angle = q[i]! + joints[i * JOINT]!
      turns[2 * i] = Math.cos(angle)
      turns[2 * i + 1] = Math.sin(angle)
    }
    this.#follow()
  }

  /**
   * The same where the joints have moved on from the last `forward` by `step` (rad, n): small turns by the first terms of their power
   * series, which cost a quarter. Rounding adds up: for a few steps, not for a whole way.
   */
  forwardBy(step: Float64Array): void {
    const turns = this.#turns
    for (let i = 0; i < this.n; i++) {
      const d = step[i]!
      const d2 = d * d
      const small = d2 < SMALL
      const s = small ? d - d * d2 * (1 / 6 - d2 * (1 / 120 - d2 / 5040)) : Math.sin(d)
      const c = small ? 1 - d2 * (0.5 - d2 * (1 / 24 - d2 / 720)) : Math.cos(d)
      const cos = turns[2 * i]!
      const sin = turns[2 * i + 1]!
      turns[2 * i] = c * cos - s * sin
      turns[2 * i + 1] = c * sin + s * cos
    }
    this.#follow()
  }

  /** Along the joints as they are turned. */
  #follow(): void {
    const joints = this.#joints
    const axes = this.#axes
    const points = this.#points
    const turns = this.#turns
    const base = this.#base
    const n = this.n
    // The three columns, and the origin.
    let ux = base[0]!
    let uy = base[3]!
    let uz = base[6]!
    let vx = base[1]!
    let vy = base[4]!
    let vz = base[7]!
    let wx = base[2]!
    let wy = base[5]!
    let wz = base[8]!
    let px = base[9]!
    let py = base[10]!
    let pz = base[11]!
    for (let i = 0; i < n; i++) {
      const j = 3 * i
      axes[j] = wx
      axes[j + 1] = wy
      axes[j + 2] = wz
      points[j] = px
      points[j + 1] = py
      points[j + 2] = pz
      // The joint's turn, the shift, and the tilt to the next joint's axis.
      const k = i * JOINT
      const c = turns[2 * i]!
      const s = turns[2 * i + 1]!
      const cb = joints[k + 1]!
      const sb = joints[k + 2]!
      const x = joints[k + 3]!
      const y = joints[k + 4]!
      const z = joints[k + 5]!
      const tx = c * vx - s * ux
      const ty = c * vy - s * uy
      const tz = c * vz - s * uz
      ux = c * ux + s * vx
      uy = c * uy + s * vy
      uz = c * uz + s * vz
      px += x * ux + y * tx + z * wx
      py += x * uy + y * ty + z * wy
      pz += x * uz + y * tz + z * wz
      vx = cb * tx + sb * wx
      vy = cb * ty + sb * wy
      vz = cb * tz + sb * wz
      wx = cb * wx - sb * tx
      wy = cb * wy - sb * ty
      wz = cb * wz - sb * tz
    }
    const f = this.#tool
    const t = this.blade
    const f0 = f[0]!
    const f1 = f[1]!
    const f2 = f[2]!
    const f3 = f[3]!
    const f4 = f[4]!
    const f5 = f[5]!
    const f6 = f[6]!
    const f7 = f[7]!
    const f8 = f[8]!
    const x = f[9]!
    const y = f[10]!
    const z = f[11]!
    t[0] = ux * f0 + vx * f3 + wx * f6
    t[1] = ux * f1 + vx * f4 + wx * f7
    t[2] = ux * f2 + vx * f5 + wx * f8
    t[3] = uy * f0 + vy * f3 + wy * f6
    t[4] = uy * f1 + vy * f4 + wy * f7
    t[5] = uy * f2 + vy * f5 + wy * f8
    t[6] = uz * f0 + vz * f3 + wz * f6
    t[7] = uz * f1 + vz * f4 + wz * f7
    t[8] = uz * f2 + vz * f5 + wz * f8
    t[9] = px + ux * x + vx * y + wx * z
    t[10] = py + uy * x + vy * y + wy * z
    t[11] = pz + uz * x + vz * y + wz * z
  }

  /** Unit vectors, craft frame, three numbers a joint: the joints' axes at the last `forward`. */
  get axes(): Float64Array {
    return this.#axes
  }

  /** m, craft frame, three numbers a joint: where each joint's frame has its origin at the last `forward`. */
  get origins(): Float64Array {
    return this.#points
  }

  /**
   * Geometric Jacobian at the last `forward`: joint speeds to the blade centre's velocity (m/s) and the blade's
   * angular velocity (rad/s), craft frame.
   * @param out 6 x n, row by row: vx, vy, vz, wx, wy, wz
   */
  jacobian(out: Float64Array): void {
    const n = this.n
    const axes = this.#axes
    const points = this.#points
    const [x, y, z] = [this.blade[9]!, this.blade[10]!, this.blade[11]!]
    for (let i = 0; i < n; i++) {
      const ax = axes[3 * i]!
      const ay = axes[3 * i + 1]!
      const az = axes[3 * i + 2]!
      const dx = x - points[3 * i]!
      const dy = y - points[3 * i + 1]!
      const dz = z - points[3 * i + 2]!
      out[i] = ay * dz - az * dy
      out[n + i] = az * dx - ax * dz
      out[2 * n + i] = ax * dy - ay * dx
      out[3 * n + i] = ax
      out[4 * n + i] = ay
      out[5 * n + i] = az
    }
  }

  /**
   * How the blade's twist changes when the joints go on at these speeds, at the last `forward`: J' qd, link by link from the base, as a
   * point that turns is pulled to its axis.
   * @param qd rad/s, n
   * @param out six numbers, craft frame: of the blade's centre (m/s2) and of the blade (rad/s2)
   */
  bend(qd: Float64Array, out: Float64Array): void {
    const n = this.n
    const axes = this.#axes
    const points = this.#points
    const blade = this.blade
    // Speed and acceleration of the link's turning; acceleration of its origin.
    let wx = 0
    let wy = 0
    let wz = 0
    let ex = 0
    let ey = 0
    let ez = 0
    let ax = 0
    let ay = 0
    let az = 0
    for (let i = 0; i < n; i++) {
      const k = 3 * i
      const speed = qd[i]!
      const sx = speed * axes[k]!
      const sy = speed * axes[k + 1]!
      const sz = speed * axes[k + 2]!
      ex += wy * sz - wz * sy
      ey += wz * sx - wx * sz
      ez += wx * sy - wy * sx
      wx += sx
      wy += sy
      wz += sz
      const last = i === n - 1
      const dx = (last ? blade[9]! : points[k + 3]!) - points[k]!
      const dy = (last ? blade[10]! : points[k + 4]!) - points[k + 1]!
      const dz = (last ? blade[11]! : points[k + 5]!) - points[k + 2]!
      const cx = wy * dz - wz * dy
      const cy = wz * dx - wx * dz
      const cz = wx * dy - wy * dx
      ax += ey * dz - ez * dy + wy * cz - wz * cy
      ay += ez * dx - ex * dz + wz * cx - wx * cz
      az += ex * dy - ey * dx + wx * cy - wy * cx
    }
    out[0] = ax
    out[1] = ay
    out[2] = az
    out[3] = ex
    out[4] = ey
    out[5] = ez
  }
}
