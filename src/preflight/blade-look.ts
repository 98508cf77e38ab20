/**
 * The greatest force on the end of each arm on a scenario's commands, by the driver's setpoints: what moves and carries the paddle,
 * and the water on the blade where the rig states water and hull. The craft then runs from rest on still water as its hull lets it.
 */
import type { Arm, Rig } from '../files/rig.js'
import { BladeLoad } from '../motion/blade-load.js'
import { BladeMotion } from '../motion/blade-motion.js'
import { waterOf } from '../motion/water/properties.js'
import { LoadPrediction } from '../watch/load-prediction.js'
import type { Middle, MiddleLook } from './middle.js'

export interface BladeForcePeak {
  readonly arm: string
  /** N */
  readonly force: number
  /** Of the stroke */
  readonly phase: number
}

class ArmEnd {
  readonly name: string
  most = 0
  phase = 0
  readonly #arm: number
  readonly #joints: readonly number[]
  readonly #load: BladeLoad
  readonly #q: Float64Array
  readonly #qd: Float64Array
  readonly #qdd: Float64Array

  constructor(rig: Rig, arm: Arm, water: { density: number } | null) {
    const { name, joints, index } = arm
    this.name = name
    this.#arm = index
    this.#joints = joints
    const own = joints.map((j) => rig.joints[j]!)
    this.#load = new BladeLoad(rig.craft, arm, new BladeMotion(arm, own), water)
    this.#q = new Float64Array(joints.length)
    this.#qd = new Float64Array(joints.length)
    this.#qdd = new Float64Array(joints.length)
  }

  see(middle: Middle, prediction: LoadPrediction | null): void {
    const load = this.#load
    for (let i = 0; i < this.#q.length; i++) {
      const j = this.#joints[i]!
      this.#q[i] = middle.q[j]!
      this.#qd[i] = middle.qd[j]!
      this.#qdd[i] = middle.qdd[j]!
    }
    load.at(this.#q, this.#qd, this.#qdd)
    prediction?.wet(load)
    const force = load.force(prediction === null ? null : load.wrench)
    if (force <= this.most) return
    this.most = force
    this.phase = middle.phase[this.#arm]!
  }
}

export class BladeLook implements MiddleLook {
  readonly #prediction: LoadPrediction | null
  readonly #ends: readonly ArmEnd[]

  /** @param period s between two looks */
  constructor(rig: Rig, period: number) {
    const { craft, hull } = rig
    const water = rig.water && waterOf(rig.water)
    this.#prediction =
      hull && water ? new LoadPrediction({ craft, control: { rate: 1 / period, period } }, hull, water) : null
    this.#ends = rig.arms.map((arm) => new ArmEnd(rig, arm, water))
  }

  /** Of the arm with the greatest. */
  get greatest(): BladeForcePeak {
    const { name, most, phase } = this.#ends.reduce((a, b) => (b.most > a.most ? b : a))
    return { arm: name, force: most, phase }
  }

  see(middle: Middle): void {
    for (const end of this.#ends) end.see(middle, this.#prediction)
    this.#prediction?.step()
  }
}
