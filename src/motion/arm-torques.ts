/**
 * What one arm's drives give for a motion, on dry land and with the blade in the water; allocation-free.
 *
 *     dry     tau = M(q) qdd + c(q, qd) + g(q) + friction(qd)
 *     afloat  tau - J(q)^T w,   w the water on the blade: lift, drag and added mass (blade-load.ts)
 *
 * A joint slower than its `still` counts as at rest, where dry friction has no value of its own: what is left of an encoder's
 * noise then turns no friction about.
 */
import type { Arm, Rig } from '../files/rig.js'
import { BladeLoad } from './blade-load.js'
import { friction } from './friction.js'
import { LadenArm, type WeighedJoint } from './laden-arm.js'
import type { Water } from './water/properties.js'

export class ArmTorques {
  /** N m, one a joint, of the last `at` */
  readonly dry: Float64Array
  /** N m, one a joint, of the last `wet` */
  readonly afloat: Float64Array
  readonly #arm: LadenArm
  readonly #load: BladeLoad
  readonly #still: Float64Array
  readonly #moving: Float64Array
  readonly #rubbing: Float64Array
  readonly #mass: Float64Array

  /**
   * @param own the arm's joints, from base to tip
   * @param still rad/s, one a joint
   * @param water null: nothing is known of it, and `wet` is not called
   * @throws DrystrokeError `file-invalid` for a blade that is none, or a negative coefficient of its flow
   */
  constructor(
    craft: Pick<Rig['craft'], 'waterline'>,
    arm: Arm,
    own: readonly WeighedJoint[],
    still: Float64Array,
    water: Pick<Water, 'density'> | null,
  ) {
    const n = own.length
    this.#arm = new LadenArm(arm, own)
    this.#load = new BladeLoad(craft, arm, this.#arm, water)
    this.#still = still
    this.dry = new Float64Array(n)
    this.afloat = new Float64Array(n)
    this.#moving = new Float64Array(n)
    this.#rubbing = new Float64Array(n)
    this.#mass = new Float64Array(n * n)
  }

  /** T_craft_blade of the last `at`. */
  get blade(): Float64Array {
    return this.#load.blade
  }

  /** m2 of the blade's face under water at the last `at`, craft level at rest */
  get area(): number {
    return this.#load.area
  }

  /** N and N m about the blade's centre, craft frame: the water on the blade at the last `wet` */
  get wrench(): Float64Array {
    return this.#load.wrench
  }

  /** Works out `dry` and `area`. @param q rad @param qd rad/s @param qdd rad/s2; one a joint each */
  at(q: Float64Array, qd: Float64Array, qdd: Float64Array): void {
    const arm = this.#arm
    arm.dynamics.inverse(q, qd, qdd, null, this.dry)
    for (let i = 0; i < arm.n; i++) this.#moving[i] = Math.abs(qd[i]!) > this.#still[i]! ? qd[i]! : 0
    friction(arm.trains, this.#moving, this.#rubbing)
    for (let i = 0; i < arm.n; i++) this.dry[i]! += this.#rubbing[i]!
    this.#load.at(q, qd, qdd)
  }

  /**
   * Works out `wrench` and `afloat` for the motion of the last `at`.
   * @param craft velocity of the craft over ground, as `BladeForce.at` takes it @param current as `BladeForce.at` takes it
   */
  wet(craft: Float64Array, current: Float64Array): void {
    const arm = this.#arm
    this.#load.wet(craft, current)
    for (let i = 0; i < arm.n; i++) this.afloat[i] = this.dry[i]! - arm.ofJoint(i, this.#load.wrench)
  }

  /** kg: see `BladeLoad.carried`. */
  carried(water: Float64Array | null): number {
    return this.#load.carried(water)
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
