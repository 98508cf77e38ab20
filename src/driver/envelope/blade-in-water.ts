/**
 * The water on the blade of one arm all along a steady stroke, at any speed of the stroke and any way of the craft. Twists of the
 * blade against the craft are worked out once for each unit of phase rate; with the phase's rate r and its slope over the phase
 *
 *     twist = t r,  acceleration = t' r^2 + t r dr/dphase,    t = J(q) dq/dphase
 *
 * As in the simulated plant: the blade is a flat rectangle of its length that has its area, and the craft's own acceleration is left out.
 */
import type { Arm, Rig } from '../../files/rig.js'
import { Chain } from '../../motion/chain.js'
import { wetShape } from '../../motion/laden-arm.js'
import { POSE } from '../../motion/pose.js'
import { BladeForce } from '../../motion/water/blade-force.js'
import type { CraftMotion } from '../../motion/water/craft-motion.js'
import type { Water } from '../../motion/water/properties.js'
import { jointsOf } from '../posture.js'
import type { StrokePace } from './stroke-pace.js'
import { STEPS } from './stroke-poses.js'

const WRENCH = 6
/** Places of a stroke from one to the next at which `pull` looks. */
const STRIDE = 12

export class BladeInWater {
  /** Velocity of the craft that the blade meets the water with, as `BladeForce.at` takes it: at rest until somebody sets it. */
  readonly craft = new Float64Array(3)
  readonly #blade: BladeForce
  readonly #poses: Float64Array
  readonly #pose = new Float64Array(POSE)
  readonly #twists: Float64Array
  readonly #bends: Float64Array
  /** Is any of the blade under water there? */
  readonly #wet = new Uint8Array(STEPS)
  readonly #twist = new Float64Array(WRENCH)
  readonly #acceleration = new Float64Array(WRENCH)
  readonly #current = new Float64Array(2)
  readonly #load = new Float64Array(WRENCH)

  /** @param poses rad, the arm's own joints, as `strokePoses` gives them */
  constructor(rig: Rig, arm: Arm, poses: Float64Array, water: Pick<Water, 'density'>) {
    const joints = jointsOf(rig, arm)
    const n = joints.length
    this.#blade = new BladeForce(wetShape(arm), arm.paddle.flow, water, rig.craft.waterline)
    this.#poses = new Float64Array(STEPS * POSE)
    this.#twists = new Float64Array(STEPS * WRENCH)
    this.#bends = new Float64Array(STEPS * WRENCH)
    const chain = new Chain(arm, joints)
    const jacobian = new Float64Array(WRENCH * n)
    for (let i = 0; i < STEPS; i++) {
      const [before, after] = [(i + STEPS - 1) % STEPS, (i + 1) % STEPS]
      chain.forward(poses.subarray(i * n, (i + 1) * n))
      chain.jacobian(jacobian)
      this.#poses.set(chain.blade, i * POSE)
      this.#blade.wet.at(chain.blade)
      this.#wet[i] = this.#blade.wet.area > 0 ? 1 : 0
      for (let r = 0; r < WRENCH; r++) {
        let twist = 0
        for (let j = 0; j < n; j++)
          twist += (jacobian[r * n + j]! * (poses[after * n + j]! - poses[before * n + j]!) * STEPS) / 2
        this.#twists[i * WRENCH + r] = twist
      }
    }
    const all = STEPS * WRENCH
    for (let k = 0; k < all; k++) {
      const [before, after] = [this.#twists[(k + all - WRENCH) % all]!, this.#twists[(k + WRENCH) % all]!]
      this.#bends[k] = ((after - before) * STEPS) / 2
    }
  }

  /** @param step its place is phase step / STEPS @param out N, and N m about the blade's centre, craft frame */
  on(step: number, pace: StrokePace, out: Float64Array): void {
    out.fill(0)
    if (this.#wet[step] === 0) return
    const rate = pace.rates[step]!
    const rise = pace.rises[step]!
    for (let r = 0; r < WRENCH; r++) {
      const twist = this.#twists[step * WRENCH + r]!
      this.#twist[r] = twist * rate
      this.#acceleration[r] = this.#bends[step * WRENCH + r]! * rate * rate + twist * rate * rise
    }
    for (let k = 0; k < POSE; k++) this.#pose[k] = this.#poses[step * POSE + k]!
    this.#blade.at(this.#pose, this.#twist, this.craft, this.#current, out)
    this.#blade.addInertia(this.#acceleration, out)
  }

  /** Has a craft pulled by the mean over a whole stroke, of the water on this blade under way as the craft is. @param pace of its last `run` */
  pull(craft: CraftMotion, pace: StrokePace): void {
    craft.overGround(this.craft)
    let time = 0
    for (let i = 0; i < STEPS; i += STRIDE) time += pace.lasts[i]!
    for (let i = 0; i < STEPS; i += STRIDE) {
      if (this.#wet[i] === 0) continue
      this.on(i, pace, this.#load)
      const share = pace.lasts[i]! / time
      for (let r = 0; r < WRENCH; r++) this.#load[r]! *= share
      craft.pull(this.#load, this.#poses[i * POSE + 9]!, this.#poses[i * POSE + 10]!)
    }
  }

  /** m, x and y of the blade's centre in the craft frame. */
  x(step: number): number {
    return this.#poses[step * POSE + 9]!
  }

  y(step: number): number {
    return this.#poses[step * POSE + 10]!
  }

  /** W that the water takes from the arm: against the blade's motion relative to the craft. @param load of the last `on` */
  taken(load: Float64Array): number {
    let power = 0
    for (let r = 0; r < WRENCH; r++) power -= load[r]! * this.#twist[r]!
    return power
  }
}
