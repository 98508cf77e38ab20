/**
 * What one arm's drives give for a motion, on dry land and with the blade in the water; allocation-free.
 *
 *     dry     tau = M(q) qdd + c(q, qd) + g(q) + friction(qd)
 *     afloat  tau - J(q)^T w,   w the water on the blade: lift, drag and added mass (water/blade-force.ts)
 *
 * The acceleration of the blade's centre is J qdd + J' qd. The blade is a flat rectangle of its length that has its area. A joint
 * slower than its `still` counts as at rest, where dry friction has no value of its own: what is left of an encoder's noise then
 * turns no friction about.
 */
import type { Arm, Rig } from '../files/rig.js'
import { friction } from './friction.js'
import { GRAVITY } from './gravity.js'
import { LadenArm, SPATIAL, type WeighedJoint, wetShape } from './laden-arm.js'
import { BladeForce } from './water/blade-force.js'
import { Immersion } from './water/immersion.js'
import type { Water } from './water/properties.js'

export class ArmTorques {
  /** N m, one a joint, of the last `at` */
  readonly dry: Float64Array
  /** N m, one a joint, of the last `wet` */
  readonly afloat: Float64Array
  /** N and N m about the blade's centre, craft frame: the water on the blade at the last `wet` */
  readonly wrench: Float64Array = new Float64Array(SPATIAL)
  /** m2 of the blade's face under water at the last `at`, craft level at rest */
  area = 0
  readonly #arm: LadenArm
  readonly #blade: BladeForce | null
  readonly #immersion: Immersion
  readonly #paddle: number
  readonly #still: Float64Array
  readonly #moving: Float64Array
  readonly #rubbing: Float64Array
  readonly #mass: Float64Array
  readonly #twist = new Float64Array(SPATIAL)
  /** m/s2 and rad/s2, craft frame: of the blade's centre */
  readonly #acceleration = new Float64Array(SPATIAL)

  /**
   * @param own the arm's joints, from base to tip
   * @param still rad/s, one a joint
   * @param water null: nothing is known of it, and `wet` is not called
   * @throws DrystrokeError `file-invalid` for a blade that is none, or a negative coefficient of its flow
   */
  constructor(
    { waterline }: Pick<Rig['craft'], 'waterline'>,
    arm: Arm,
    own: readonly WeighedJoint[],
    still: Float64Array,
    water: Pick<Water, 'density'> | null,
  ) {
    const n = own.length
    const shape = wetShape(arm)
    this.#arm = new LadenArm(arm, own)
    this.#blade = water === null ? null : new BladeForce(shape, arm.paddle.flow, water, waterline)
    this.#immersion = this.#blade?.wet ?? new Immersion(shape, waterline)
    this.#paddle = arm.paddle.mass
    this.#still = still
    this.dry = new Float64Array(n)
    this.afloat = new Float64Array(n)
    this.#moving = new Float64Array(n)
    this.#rubbing = new Float64Array(n)
    this.#mass = new Float64Array(n * n)
  }

  /** T_craft_blade of the last `at`. */
  get blade(): Float64Array {
    return this.#arm.chain.blade
  }

  /** Works out `dry` and `area`. @param q rad @param qd rad/s @param qdd rad/s2; one a joint each */
  at(q: Float64Array, qd: Float64Array, qdd: Float64Array): void {
    const arm = this.#arm
    arm.dynamics.inverse(q, qd, qdd, null, this.dry)
    for (let i = 0; i < arm.n; i++) this.#moving[i] = Math.abs(qd[i]!) > this.#still[i]! ? qd[i]! : 0
    friction(arm.trains, this.#moving, this.#rubbing)
    for (let i = 0; i < arm.n; i++) this.dry[i]! += this.#rubbing[i]!
    arm.place(q)
    arm.chain.bend(qd, this.#acceleration)
    this.#twist.fill(0)
    arm.addOfBlade(qd, 1, this.#twist)
    arm.addOfBlade(qdd, 1, this.#acceleration)
    this.#immersion.at(arm.chain.blade)
    this.area = this.#immersion.area
  }

  /**
   * Works out `wrench` and `afloat` for the motion of the last `at`.
   * @param craft velocity of the craft over ground, as `BladeForce.at` takes it @param current as `BladeForce.at` takes it
   */
  wet(craft: Float64Array, current: Float64Array): void {
    const arm = this.#arm
    const blade = this.#blade!
    const { wrench } = this
    blade.at(arm.chain.blade, this.#twist, craft, current, wrench)
    blade.addInertia(this.#acceleration, wrench)
    for (let i = 0; i < arm.n; i++) this.afloat[i] = this.dry[i]! - arm.ofJoint(i, wrench)
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
   * What noise of the accelerations makes of the torques: independent ones through the mass matrix. That of positions and speeds is
   * little beside it, and left out.
   * @param q rad @param noise rad/s2, standard deviations @param out N m, standard deviations; one a joint each
   */
  noise(q: Float64Array, noise: Float64Array, out: Float64Array): void {
    const { n, dynamics } = this.#arm
    dynamics.mass(q, this.#mass)
    for (let i = 0; i < n; i++) {
      let sum = 0
      for (let j = 0; j < n; j++) sum += (this.#mass[i * n + j]! * noise[j]!) ** 2
      out[i] = Math.sqrt(sum)
    }
  }
}
