/**
 * The greatest force on the end of each arm on a scenario's commands, by the driver's setpoints: what moves and carries the paddle,
 * and the water on the blade where the rig states water and hull. The craft then runs from rest on still water as its hull lets it.
 */
import type { Look } from '../bench/scenario-walk.js'
import type { ReferenceDriver } from '../driver/reference.js'
import type { Rig } from '../files/rig.js'
import { BladeLoad } from '../motion/blade-load.js'
import { BladeMotion } from '../motion/blade-motion.js'
import { waterOf } from '../motion/water/properties.js'
import { LoadPrediction } from '../watch/load-prediction.js'

export interface BladeForcePeak {
  readonly arm: string
  /** N */
  readonly force: number
  /** Of the stroke */
  readonly phase: number
}

class ArmEnd {
  readonly name: string
  readonly side: 'port' | 'starboard'
  most = 0
  phase = 0
  readonly #joints: readonly number[]
  readonly #load: BladeLoad
  readonly #q: Float64Array
  readonly #qd: Float64Array
  readonly #qdd: Float64Array

  constructor(
    rig: Rig,
    { name, side, joints, index }: Rig['arms'][number],
    water: { density: number } | null,
  ) {
    this.name = name
    this.side = side
    this.#joints = joints
    const own = joints.map((j) => rig.joints[j]!)
    const arm = rig.arms[index]!
    this.#load = new BladeLoad(rig.craft, arm, new BladeMotion(arm, own), water)
    this.#q = new Float64Array(joints.length)
    this.#qd = new Float64Array(joints.length)
    this.#qdd = new Float64Array(joints.length)
  }

  /** Setpoints of three looks in a row. @param T s between them */
  see(
    before: Float64Array,
    here: Float64Array,
    after: Float64Array,
    T: number,
    phase: number,
    prediction: LoadPrediction | null,
  ): void {
    const load = this.#load
    for (let i = 0; i < this.#q.length; i++) {
      const j = this.#joints[i]!
      this.#q[i] = here[j]!
      this.#qd[i] = (after[j]! - before[j]!) / (2 * T)
      this.#qdd[i] = (after[j]! - 2 * here[j]! + before[j]!) / (T * T)
    }
    load.at(this.#q, this.#qd, this.#qdd)
    prediction?.wet(load)
    const force = load.force(prediction === null ? null : load.wrench)
    if (force <= this.most) return
    this.most = force
    this.phase = phase
  }
}

export class BladeLook implements Look {
  readonly #driver: Pick<ReferenceDriver, 'sides'>
  readonly #period: number
  readonly #prediction: LoadPrediction | null
  readonly #ends: readonly ArmEnd[]
  #seen = 0
  #before: Float64Array
  #here: Float64Array
  #after: Float64Array

  /** @param period s between two looks */
  constructor(rig: Rig, driver: Pick<ReferenceDriver, 'sides'>, period: number) {
    const { craft, hull, joints } = rig
    const water = rig.water && waterOf(rig.water)
    this.#driver = driver
    this.#period = period
    this.#prediction =
      hull && water ? new LoadPrediction({ craft, control: { rate: 1 / period, period } }, hull, water) : null
    this.#ends = rig.arms.map((arm) => new ArmEnd(rig, arm, water))
    this.#before = new Float64Array(joints.length)
    this.#here = new Float64Array(joints.length)
    this.#after = new Float64Array(joints.length)
  }

  /** Of the arm with the greatest. */
  get greatest(): BladeForcePeak {
    const { name, most, phase } = this.#ends.reduce((a, b) => (b.most > a.most ? b : a))
    return { arm: name, force: most, phase }
  }

  see(q: Float64Array): void {
    const spare = this.#before
    this.#before = this.#here
    this.#here = this.#after
    this.#after = spare
    spare.set(q)
    if (++this.#seen < 3) return
    const { sides } = this.#driver
    for (const end of this.#ends) {
      const { phase } = sides[end.side]
      end.see(this.#before, this.#here, this.#after, this.#period, phase, this.#prediction)
    }
    this.#prediction?.step()
  }
}
