/**
 * One arm with its blade in the water, from one grid point to the next: the torques that its joints' intended motion takes,
 * with gravity, inertia, friction and the water on the blade; and what becomes of the motion where a motor cannot give them.
 *
 * The drives are taken to know their load: a joint whose motor bears it moves as it would dry. Friction is that of the speed at the
 * grid point, and fades away towards rest: it does not hold a joint that stands. The blade is a flat rectangle of its length that has its area. What blade-force.ts
 * leaves out is left out; so is the craft's own acceleration, for arm and blade alike.
 */
import type { Arm, Rig } from '../files/rig.js'
import { Chain } from '../motion/chain.js'
import { Dynamics } from '../motion/dynamics.js'
import { friction } from '../motion/friction.js'
import { Links } from '../motion/links.js'
import { paddleBody } from '../motion/paddle-body.js'
import { BladeForce } from '../motion/water/blade-force.js'
import type { Water } from '../motion/water/properties.js'
import type { CoupledJoint } from './mechanism.js'
import { TorqueCut } from './torque-cut.js'

const WRENCH = 6
/** rad/s below which friction fades, or a joint that hardly moves would have all of it, now this way, now that. Invented. */
const SLOW = 0.01

export class AfloatArm {
  /** N and N m about the blade's centre, craft frame: the water on the blade over the last step. */
  readonly load = new Float64Array(WRENCH)
  readonly joints: readonly CoupledJoint[]
  readonly #chain: Chain
  readonly #dynamics: Dynamics
  readonly #blade: BladeForce
  readonly #trains
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
  readonly #jacobian: Float64Array
  readonly #twist = new Float64Array(WRENCH)
  readonly #twistBefore = new Float64Array(WRENCH)
  readonly #acceleration = new Float64Array(WRENCH)
  readonly #added = new Float64Array(WRENCH)
  #begun = false

  /**
   * @param joints the arm's own, from base to tip
   * @param step s, distance of the grid points
   */
  constructor(
    rig: Pick<Rig, 'craft' | 'joints'>,
    arm: Arm,
    joints: readonly CoupledJoint[],
    water: Water,
    step: number,
  ) {
    const own = arm.joints.map((i) => rig.joints[i]!)
    const n = own.length
    const { paddle, tool } = arm
    this.joints = joints
    this.#step = step
    this.#trains = own.map((joint) => joint.train)
    this.#chain = new Chain(arm, own)
    const bodies = own.flatMap(({ body }) => body ?? [])
    this.#dynamics = new Dynamics(new Links(arm, own, bodies, this.#trains, paddleBody(paddle, tool)))
    const { normal, shaft } = tool
    const shape = { normal, shaft, length: paddle.length, width: paddle.area / paddle.length }
    this.#blade = new BladeForce(shape, paddle.flow, water, rig.craft.waterline)
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
    this.#jacobian = new Float64Array(WRENCH * n)
  }

  /** m, x and y of the blade's centre in the craft frame at the last grid point: where `load` acts. */
  get x(): number {
    return this.#chain.blade[9]!
  }

  get y(): number {
    return this.#chain.blade[10]!
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
    this.#dynamics.inverse(this.#q, this.#qd, this.#qdd, this.load, this.#torques)
    friction(this.#trains, this.#qd, this.#rubbing)
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
    const chain = this.#chain
    const jacobian = this.#jacobian
    const n = this.joints.length
    chain.forward(this.#q)
    chain.jacobian(jacobian)
    for (let r = 0; r < WRENCH; r++) {
      let speed = 0
      let asked = 0
      let was = 0
      for (let i = 0; i < n; i++) {
        const j = jacobian[r * n + i]!
        speed += j * this.#qd[i]!
        asked += j * this.#qdd[i]!
        was += j * (this.#qd[i]! - this.#before[i]!)
      }
      // J a, and of J' v what the last step shows: whatever the twist changed by beyond J times the change of the joints' speeds.
      const bent = this.#begun ? (speed - this.#twistBefore[r]! - was) / this.#step : 0
      this.#twist[r] = speed
      this.#acceleration[r] = asked + bent
    }
    this.#blade.at(chain.blade, this.#twist, craft, current, this.load)
    this.#blade.addInertia(this.#acceleration, this.load)
  }

  /** Motors give what they can; what the blade takes along of the water counts as mass, so that this stays stable. */
  #yield(): void {
    const n = this.joints.length
    const mass = this.#mass
    const jacobian = this.#jacobian
    const added = this.#added
    this.#dynamics.mass(this.#q, mass)
    for (let j = 0; j < n; j++) {
      for (let r = 0; r < WRENCH; r++) this.#acceleration[r] = jacobian[r * n + j]!
      added.fill(0)
      this.#blade.addInertia(this.#acceleration, added)
      for (let i = 0; i < n; i++)
        for (let r = 0; r < WRENCH; r++) mass[i * n + j]! -= jacobian[r * n + i]! * added[r]!
    }
    this.#cut.solve(mass, this.#most, this.#torques, this.#change)
    for (let r = 0; r < WRENCH; r++) {
      let change = 0
      for (let i = 0; i < n; i++) change += jacobian[r * n + i]! * this.#change[i]!
      this.#acceleration[r] = change
    }
    this.#blade.addInertia(this.#acceleration, this.load)
    for (let i = 0; i < n; i++) this.#qdd[i]! += this.#change[i]!
  }
}
