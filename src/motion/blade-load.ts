/**
 * What the end of one arm does and bears for a motion: its blade's twist and acceleration, the water on the blade, and what carries
 * the paddle; allocation-free. The acceleration of the blade's centre is J qdd + J' qd (chain.ts).
 */
import type { Arm, Rig } from '../files/rig.js'
import { type BladeMotion, SPATIAL } from './blade-motion.js'
import { GRAVITY } from './gravity.js'
import { wetShape } from './laden-arm.js'
import { BladeForce } from './water/blade-force.js'
import { Immersion } from './water/immersion.js'
import type { Water } from './water/properties.js'

export class BladeLoad {
  /** N and N m about the blade's centre, craft frame: the water on the blade at the last `wet` */
  readonly wrench: Float64Array = new Float64Array(SPATIAL)
  /** m2 of the blade's face under water at the last `at`, craft level at rest */
  area = 0
  readonly #motion: BladeMotion
  readonly #water: BladeForce | null
  readonly #immersion: Immersion
  readonly #paddle: number
  /** m/s and rad/s, craft frame: of the blade's centre */
  readonly #twist = new Float64Array(SPATIAL)
  /** m/s2 and rad/s2 */
  readonly #acceleration = new Float64Array(SPATIAL)

  /**
   * @param motion of this arm: it is placed by `at`
   * @param water null: nothing is known of it, and `wet` is not called
   * @throws DrystrokeError `file-invalid` for a blade that is none, or a negative coefficient of its flow
   */
  constructor(
    { waterline }: Pick<Rig['craft'], 'waterline'>,
    arm: Arm,
    motion: BladeMotion,
    water: Pick<Water, 'density'> | null,
  ) {
    const shape = wetShape(arm)
    this.#motion = motion
    this.#water = water === null ? null : new BladeForce(shape, arm.paddle.flow, water, waterline)
    this.#immersion = this.#water?.wet ?? new Immersion(shape, waterline)
    this.#paddle = arm.paddle.mass
  }

  /** T_craft_blade of the last `at`. */
  get blade(): Float64Array {
    return this.#motion.chain.blade
  }

  /** Works out `blade` and `area`. @param q rad @param qd rad/s @param qdd rad/s2; one a joint each */
  at(q: Float64Array, qd: Float64Array, qdd: Float64Array): void {
    const motion = this.#motion
    motion.place(q)
    motion.chain.bend(qd, this.#acceleration)
    this.#twist.fill(0)
    motion.addOfBlade(qd, this.#twist)
    motion.addOfBlade(qdd, this.#acceleration)
    this.#immersion.at(motion.chain.blade)
    this.area = this.#immersion.area
  }

  /**
   * Works out `wrench` for the motion of the last `at`.
   * @param craft velocity of the craft over ground, as `BladeForce.at` takes it @param current as `BladeForce.at` takes it
   */
  wet(craft: Float64Array, current: Float64Array): void {
    const water = this.#water!
    water.at(this.#motion.chain.blade, this.#twist, craft, current, this.wrench)
    water.addInertia(this.#acceleration, this.wrench)
  }

  /**
   * kg: the still mass that would load the end of the arm as its paddle does at the last `at`: the force that moves and carries
   * it, over gravity. @param water the water's force on the blade (N, craft frame, three numbers or more), or null: dry
   */
  carried(water: Float64Array | null): number {
    return this.force(water) / GRAVITY
  }

  /** N: the size of the force that moves and carries the paddle at the last `at`. @param water as `carried` takes it */
  force(water: Float64Array | null): number {
    const a = this.#acceleration
    const m = this.#paddle
    const x = m * a[0]! - (water?.[0] ?? 0)
    const y = m * a[1]! - (water?.[1] ?? 0)
    const z = m * (a[2]! + GRAVITY) - (water?.[2] ?? 0)
    return Math.sqrt(x * x + y * y + z * z)
  }
}
