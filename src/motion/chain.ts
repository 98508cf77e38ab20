/**
 * Forward kinematics and the geometric Jacobian of one arm, allocation-free.
 *
 * Every joint is rewritten once as a turn about z: with B_i turning z onto the joint's axis, the fixed part before it
 * becomes B_(i-1)^T origin_i B_i. A joint then costs one matrix product and one turn of two columns, and its axis is
 * the third column. The base pose is folded into the first joint, so that all results are in the craft frame. Column i of the
 * geometric Jacobian is (axis x (blade - point), axis), as in B. Siciliano, L. Sciavicco, L. Villani, G. Oriolo, "Robotics: Modelling,
 * Planning and Control" (2009), 3.1.3 (from memory).
 */
import type { Arm, Pose, Vector3 } from '../files/rig.js'
import { multiply, POSE, poseOf, turnedBack, zOnto } from './pose.js'

/** rad2: below it four terms of the power series leave out less than the last digit. */
const SMALL = 1 / 1024

export class Chain {
  /** Number of joints. */
  readonly n: number
  /** T_craft_blade of the last `forward`. */
  readonly blade: Float64Array = new Float64Array(POSE)
  /** m: half the way along the links from the second joint to the blade's centre; makes metres and radians comparable. */
  readonly scale: number
  readonly #fixed: Float64Array
  /** Cosine and sine of each joint's position. */
  readonly #turns: Float64Array
  /** Joint axes (unit) and points on them (m), craft frame, three numbers a joint. */
  readonly #axes: Float64Array
  readonly #points: Float64Array

  /** @param joints from base to tip: origin in the parent at position zero, and the unit axis in the joint's own frame */
  constructor(arm: Pick<Arm, 'base' | 'tool'>, joints: readonly { origin: Pose; axis: Vector3 }[]) {
    const n = joints.length
    this.n = n
    this.#fixed = new Float64Array((n + 1) * POSE)
    this.#turns = new Float64Array(2 * n)
    this.#axes = new Float64Array(3 * n)
    this.#points = new Float64Array(3 * n)
    let before = poseOf(arm.base)
    const a = new Float64Array(POSE)
    const b = new Float64Array(POSE)
    joints.forEach(({ origin, axis }, i) => {
      const turn = zOnto(axis)
      multiply(before, poseOf(origin), a)
      multiply(a, turn, b)
      this.#fixed.set(b, i * POSE)
      before = turnedBack(turn)
    })
    multiply(before, poseOf(arm.tool.pose), a)
    this.#fixed.set(a, n * POSE)
    const links = [...joints.slice(1).map((j) => j.origin.at), arm.tool.pose.at]
    this.scale = links.reduce((sum, at) => sum + Math.hypot(...at), 0) / 2
  }

  /** Works out `blade` and the joint axes at joint positions `q` (rad, n of them). */
  forward(q: Float64Array): void {
    const turns = this.#turns
    // Apart from the rest: a call in the midst of it would cost all that is held in registers.
    for (let i = 0; i < this.n; i++) {
      const angle = q[i]!
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
    const fixed = this.#fixed
    const axes = this.#axes
    const points = this.#points
    const turns = this.#turns
    const n = this.n
    let r00 = fixed[0]!
    let r01 = fixed[1]!
    let r02 = fixed[2]!
    let r10 = fixed[3]!
    let r11 = fixed[4]!
    let r12 = fixed[5]!
    let r20 = fixed[6]!
    let r21 = fixed[7]!
    let r22 = fixed[8]!
    let px = fixed[9]!
    let py = fixed[10]!
    let pz = fixed[11]!
    for (let i = 0; i < n; i++) {
      axes[3 * i] = r02
      axes[3 * i + 1] = r12
      axes[3 * i + 2] = r22
      points[3 * i] = px
      points[3 * i + 1] = py
      points[3 * i + 2] = pz
      // R Rz(q): two columns turn.
      const c = turns[2 * i]!
      const s = turns[2 * i + 1]!
      const u0 = c * r00 + s * r01
      const u1 = c * r10 + s * r11
      const u2 = c * r20 + s * r21
      const v0 = c * r01 - s * r00
      const v1 = c * r11 - s * r10
      const v2 = c * r21 - s * r20
      // Times the fixed part that follows.
      const f = (i + 1) * POSE
      const f0 = fixed[f]!
      const f1 = fixed[f + 1]!
      const f2 = fixed[f + 2]!
      const f3 = fixed[f + 3]!
      const f4 = fixed[f + 4]!
      const f5 = fixed[f + 5]!
      const f6 = fixed[f + 6]!
      const f7 = fixed[f + 7]!
      const f8 = fixed[f + 8]!
      const tx = fixed[f + 9]!
      const ty = fixed[f + 10]!
      const tz = fixed[f + 11]!
      px += u0 * tx + v0 * ty + r02 * tz
      py += u1 * tx + v1 * ty + r12 * tz
      pz += u2 * tx + v2 * ty + r22 * tz
      const w0 = r02
      const w1 = r12
      const w2 = r22
      r00 = u0 * f0 + v0 * f3 + w0 * f6
      r01 = u0 * f1 + v0 * f4 + w0 * f7
      r02 = u0 * f2 + v0 * f5 + w0 * f8
      r10 = u1 * f0 + v1 * f3 + w1 * f6
      r11 = u1 * f1 + v1 * f4 + w1 * f7
      r12 = u1 * f2 + v1 * f5 + w1 * f8
      r20 = u2 * f0 + v2 * f3 + w2 * f6
      r21 = u2 * f1 + v2 * f4 + w2 * f7
      r22 = u2 * f2 + v2 * f5 + w2 * f8
    }
    const t = this.blade
    t[0] = r00
    t[1] = r01
    t[2] = r02
    t[3] = r10
    t[4] = r11
    t[5] = r12
    t[6] = r20
    t[7] = r21
    t[8] = r22
    t[9] = px
    t[10] = py
    t[11] = pz
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
   * How the blade's twist changes when the joints go on at these speeds, at the last `forward`: J' qd, link by link from the base: the
   * accelerations of the recursion that dynamics.ts names, of joints that do not accelerate.
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
