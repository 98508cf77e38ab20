/**
 * What one arm's drives give for a motion, on dry land and with the blade in the water; allocation-free.
 *
 *     dry     tau = M(q) qdd + c(q, qd) + g(q) + friction(qd)
 *     afloat  tau - J(q)^T w,   w the water on the blade: lift, drag and added mass (water/blade-force.ts)
 *
 * The acceleration of the blade's centre is J qdd + J' qd; J' qd is the central difference of J(q + h qd) qd over h. The blade is a
 * flat rectangle of its length that has its area. A joint slower than its `still` counts as at rest, where dry friction has no
 * value of its own: what is left of an encoder's noise then turns no friction about.
 */
import type { Arm, Body, Joint, Rig } from '../files/rig.js'
import { Chain } from './chain.js'
import { Dynamics } from './dynamics.js'
import { friction } from './friction.js'
import { Links } from './links.js'
import { paddleBody } from './paddle-body.js'
import { BladeForce } from './water/blade-force.js'
import { Immersion } from './water/immersion.js'
import type { Water } from './water/properties.js'

const WRENCH = 6
/** s: so small that J hardly bends, so large that rounding does not show. */
const H = 1e-4
/** m/s2, as in dynamics.ts */
const GRAVITY = 9.80665

/** A joint that says what its link weighs. */
export type WeighedJoint = Joint & { readonly body: Body }

export class ArmTorques {
  /** N m, of the last `at` */
  readonly dry: Float64Array
  /** N m, of the last `wet` */
  readonly afloat: Float64Array
  /** N and N m about the blade's centre, craft frame: the water on the blade at the last `wet` */
  readonly wrench: Float64Array = new Float64Array(WRENCH)
  /** m2 of the blade's face under water at the last `at`, craft level at rest */
  area = 0
  readonly #chain: Chain
  readonly #dynamics: Dynamics
  readonly #blade: BladeForce | null
  readonly #immersion: Immersion
  readonly #trains
  readonly #paddle: number
  readonly #still: Float64Array
  readonly #moving: Float64Array
  readonly #rubbing: Float64Array
  readonly #jacobian: Float64Array
  readonly #near: Float64Array
  readonly #mass: Float64Array
  readonly #twist = new Float64Array(WRENCH)
  /** m/s2 and rad/s2, craft frame: of the blade's centre */
  readonly #acceleration = new Float64Array(WRENCH)

  /**
   * @param own the arm's joints, from base to tip
   * @param still rad/s, one a joint
   * @param water null: nothing is known of it, and `wet` is not called
   */
  constructor(
    { waterline }: Pick<Rig['craft'], 'waterline'>,
    arm: Arm,
    own: readonly WeighedJoint[],
    still: Float64Array,
    water: Pick<Water, 'density'> | null,
  ) {
    const n = own.length
    const { paddle, tool } = arm
    this.#trains = own.map((joint) => joint.train)
    this.#chain = new Chain(arm, own)
    const bodies = own.map(({ body }) => body)
    this.#dynamics = new Dynamics(new Links(arm, own, bodies, this.#trains, paddleBody(paddle, tool)))
    const { normal, shaft } = tool
    const shape = { normal, shaft, length: paddle.length, width: paddle.area / paddle.length }
    this.#blade = water === null ? null : new BladeForce(shape, paddle.flow, water, waterline)
    this.#immersion = this.#blade?.wet ?? new Immersion(shape, waterline)
    this.#paddle = paddle.mass
    this.#still = still
    this.dry = new Float64Array(n)
    this.afloat = new Float64Array(n)
    this.#moving = new Float64Array(n)
    this.#rubbing = new Float64Array(n)
    this.#jacobian = new Float64Array(WRENCH * n)
    this.#near = new Float64Array(n)
    this.#mass = new Float64Array(n * n)
  }

  /** T_craft_blade of the last `at`. */
  get blade(): Float64Array {
    return this.#chain.blade
  }

  /** Works out `dry` and `area`. @param q rad @param qd rad/s @param qdd rad/s2; one a joint each */
  at(q: Float64Array, qd: Float64Array, qdd: Float64Array): void {
    const n = this.dry.length
    this.#dynamics.inverse(q, qd, qdd, null, this.dry)
    for (let i = 0; i < n; i++) this.#moving[i] = Math.abs(qd[i]!) > this.#still[i]! ? qd[i]! : 0
    friction(this.#trains, this.#moving, this.#rubbing)
    for (let i = 0; i < n; i++) this.dry[i]! += this.#rubbing[i]!
    this.#acceleration.fill(0)
    this.#bend(q, qd, H)
    this.#bend(q, qd, -H)
    this.#chain.forward(q)
    this.#chain.jacobian(this.#jacobian)
    for (let r = 0; r < WRENCH; r++) {
      let speed = 0
      let asked = 0
      for (let i = 0; i < n; i++) {
        const j = this.#jacobian[r * n + i]!
        speed += j * qd[i]!
        asked += j * qdd[i]!
      }
      this.#twist[r] = speed
      this.#acceleration[r]! += asked
    }
    this.#immersion.at(this.#chain.blade)
    this.area = this.#immersion.area
  }

  /**
   * Works out `wrench` and `afloat` for the motion of the last `at`.
   * @param craft velocity of the craft over ground, as `BladeForce.at` takes it @param current as `BladeForce.at` takes it
   */
  wet(craft: Float64Array, current: Float64Array): void {
    const blade = this.#blade!
    const { wrench } = this
    blade.at(this.#chain.blade, this.#twist, craft, current, wrench)
    blade.addInertia(this.#acceleration, wrench)
    const n = this.dry.length
    for (let i = 0; i < n; i++) {
      let pulled = 0
      for (let r = 0; r < WRENCH; r++) pulled += this.#jacobian[r * n + i]! * wrench[r]!
      this.afloat[i] = this.dry[i]! - pulled
    }
  }

  /**
   * kg: the still mass that would load the end of the arm as its paddle does at the last `at`: the force that moves and carries
   * it, over gravity. @param water the water's force on the blade (N, craft frame, three numbers or more), or null: dry
   */
  carried(water: Float64Array | null): number {
    const a = this.#acceleration
    const m = this.#paddle
    const x = m * a[0]! - (water?.[0] ?? 0)
    const y = m * a[1]! - (water?.[1] ?? 0)
    const z = m * (a[2]! + GRAVITY) - (water?.[2] ?? 0)
    return Math.sqrt(x * x + y * y + z * z) / GRAVITY
  }

  /**
   * What noise of the accelerations makes of the torques: independent ones through the mass matrix.
   * @param q rad @param noise rad/s2, standard deviations @param out N m, standard deviations; one a joint each
   */
  noise(q: Float64Array, noise: Float64Array, out: Float64Array): void {
    const n = this.dry.length
    this.#dynamics.mass(q, this.#mass)
    for (let i = 0; i < n; i++) {
      let sum = 0
      for (let j = 0; j < n; j++) sum += (this.#mass[i * n + j]! * noise[j]!) ** 2
      out[i] = Math.sqrt(sum)
    }
  }

  /** Adds its part of J' qd to the acceleration: J(q + h qd) qd / 2h. */
  #bend(q: Float64Array, qd: Float64Array, h: number): void {
    const n = this.dry.length
    for (let i = 0; i < n; i++) this.#near[i] = q[i]! + h * qd[i]!
    this.#chain.forward(this.#near)
    this.#chain.jacobian(this.#jacobian)
    for (let r = 0; r < WRENCH; r++) {
      let speed = 0
      for (let i = 0; i < n; i++) speed += this.#jacobian[r * n + i]! * qd[i]!
      this.#acceleration[r]! += speed / (2 * h)
    }
  }
}
