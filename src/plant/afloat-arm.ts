/**
 * One arm with its blade in the water, from one grid point to the next: the torques that its joints' intended motion takes,
 * with gravity, inertia, friction and the water on the blade; and what becomes of the motion where a motor cannot give them.
 *
 * The drives are taken to know their load: a joint whose motor bears it moves as it would dry. Friction is that of the speed at the
 * grid point, and fades away towards rest: it does not hold a joint that stands. The blade is a flat rectangle of its length that has its area. What blade-force.ts
 * leaves out is left out; so is the craft's own acceleration, for arm and blade alike.
 */
import type { Arm, Rig } from '../files/rig.js'
import { SPATIAL } from '../motion/blade-motion.js'
import { friction } from '../motion/friction.js'
import { isWeighed, LadenArm, wetShape } from '../motion/laden-arm.js'
import { BladeForce } from '../motion/water/blade-force.js'
import type { Water } from '../motion/water/properties.js'
import type { CoupledJoint } from './mechanism.js'
import { TorqueCut } from './torque-cut.js'

/** rad/s below which friction fades, or a joint that hardly moves would have all of it, now this way, now that. Invented. */
const SLOW = 0.01

export class AfloatArm {
  /** N and N m about the blade's centre, craft frame: the water on the blade over the last step. */
  readonly load = new Float64Array(SPATIAL)
  readonly joints: readonly CoupledJoint[]
  readonly #arm: LadenArm
  readonly #blade: BladeForce
  readonly #peaks: Float64Array
  readonly #cut: TorqueCut
  readonly #step: number
  readonly #q: Float64Array
  readonly #qd: Float64Array
  readonly #qdd: Float64Array
  readonly #before: Float64Array
  readonly #most: Float64Array
  readonly #torques: Float64Array
  readonly #rubbing: Float64Array
  readonly #change: Float64Array
  readonly #mass: Float64Array
  /** m/s and rad/s of the blade's centre, craft frame: now, and at the last grid point */
  readonly #twist = new Float64Array(SPATIAL)
  readonly #twistBefore = new Float64Array(SPATIAL)
  /** m/s2 and rad/s2 */
  readonly #acceleration = new Float64Array(SPATIAL)
  readonly #added = new Float64Array(SPATIAL)
  #begun = false

  /**
   * @param joints the arm's own, from base to tip, all of which say what they weigh
   * @param step s, distance of the grid points
   * @throws DrystrokeError `file-invalid` for a blade that is none, or a negative coefficient of its flow
   */
  constructor(
    rig: Pick<Rig, 'craft' | 'joints'>,
    arm: Arm,
    joints: readonly CoupledJoint[],
    water: Water,
    step: number,
  ) {
    const own = arm.joints.map((i) => rig.joints[i]!).filter(isWeighed)
    const n = own.length
    this.joints = joints
    this.#step = step
    this.#arm = new LadenArm(arm, own)
    this.#blade = new BladeForce(wetShape(arm), arm.paddle.flow, water, rig.craft.waterline)
    this.#peaks = Float64Array.from(own, ({ rating, limits }) => rating?.peak ?? limits.torque)
    this.#cut = new TorqueCut(n)
    this.#q = new Float64Array(n)
    this.#qd = new Float64Array(n)
    this.#qdd = new Float64Array(n)
    this.#before = new Float64Array(n)
    this.#most = new Float64Array(n)
    this.#torques = new Float64Array(n)
    this.#rubbing = new Float64Array(n)
    this.#change = new Float64Array(n)
    this.#mass = new Float64Array(n * n)
  }

  /** m, x and y of the blade's centre in the craft frame at the last grid point: where `load` acts. */
  get x(): number {
    return this.#arm.chain.blade[9]!
  }

  get y(): number {
    return this.#arm.chain.blade[10]!
  }

  /**
   * @param craft velocity of the craft frame over ground, as `BladeForce.at` takes it
   * @param current as `BladeForce.at` takes it
   */
  advance(craft: Float64Array, current: Float64Array): void {
    const { joints } = this
    const n = joints.length
    for (let i = 0; i < n; i++) {
      const joint = joints[i]!
      this.#q[i] = joint.motion.position
      this.#qd[i] = joint.motion.speed
      this.#qdd[i] = joint.intend()
      this.#most[i] =
        joint.ceiling === Number.POSITIVE_INFINITY ? joint.ceiling : Math.min(joint.ceiling, this.#peaks[i]!)
    }
    this.#wet(craft, current)
    this.#arm.dynamics.inverse(this.#q, this.#qd, this.#qdd, this.load, this.#torques)
    friction(this.#arm.trains, this.#qd, this.#rubbing)
    let beyond = false
    for (let i = 0; i < n; i++) {
      this.#torques[i]! += Math.min(1, Math.abs(this.#qd[i]!) / SLOW) * this.#rubbing[i]!
      if (Math.abs(this.#torques[i]!) > this.#most[i]!) beyond = true
    }
    if (beyond) this.#yield()
    for (let i = 0; i < n; i++) joints[i]!.proceed(this.#qdd[i]!, this.#torques[i]!)
    this.#before.set(this.#qd)
    this.#twistBefore.set(this.#twist)
    this.#begun = true
  }

  /** The water on the blade, if it moves as intended. */
  #wet(craft: Float64Array, current: Float64Array): void {
    const arm = this.#arm
    const acceleration = this.#acceleration
    arm.place(this.#q)
    this.#twist.fill(0)
    arm.addOfBlade(this.#qd, this.#twist)
    // J a, and of J' v what the last step shows: J now less J before, times the speeds of before.
    acceleration.fill(0)
    if (this.#begun) {
      arm.addOfBlade(this.#before, acceleration)
      for (let r = 0; r < SPATIAL; r++)
        acceleration[r] = (acceleration[r]! - this.#twistBefore[r]!) / this.#step
    }
    arm.addOfBlade(this.#qdd, acceleration)
    this.#blade.at(arm.chain.blade, this.#twist, craft, current, this.load)
    this.#blade.addInertia(acceleration, this.load)
  }

  /** Motors give what they can; what the blade takes along of the water counts as mass, so that this stays stable. */
  #yield(): void {
    const arm = this.#arm
    const { n, jacobian } = arm
    const mass = this.#mass
    const added = this.#added
    arm.dynamics.mass(this.#q, mass)
    for (let j = 0; j < n; j++) {
      for (let r = 0; r < SPATIAL; r++) this.#acceleration[r] = jacobian[r * n + j]!
      added.fill(0)
      this.#blade.addInertia(this.#acceleration, added)
      for (let i = 0; i < n; i++) mass[i * n + j]! -= arm.ofJoint(i, added)
    }
    this.#cut.solve(mass, this.#most, this.#torques, this.#change)
    this.#acceleration.fill(0)
    arm.addOfBlade(this.#change, this.#acceleration)
    this.#blade.addInertia(this.#acceleration, this.load)
    for (let i = 0; i < n; i++) this.#qdd[i]! += this.#change[i]!
  }
}
