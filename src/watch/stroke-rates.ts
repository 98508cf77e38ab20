/** How fast the strokes of one arm follow one another: least and greatest rate, from one dip of its blade's centre into the water to the next. */
import type { Nanos } from '../clock.js'
import type { Arm, Rig } from '../files/rig.js'
import { Chain } from '../motion/chain.js'
import { JointSets } from './joint-sets.js'

/** s; what is longer is no stroke that follows another. */
const LONGEST = 20

export class StrokeRates {
  /** 1/s; Infinity and 0: there were no two strokes */
  least = Number.POSITIVE_INFINITY
  greatest = 0
  readonly #chain: Chain
  readonly #sets: JointSets
  readonly #surface: number
  /** m over the water that the blade must come to before another dip counts */
  readonly #out: number
  #wasOut = false
  #last: Nanos = Number.NaN

  constructor(rig: Rig, arm: Arm) {
    const joints = arm.joints.map((j) => rig.joints[j]!)
    this.#chain = new Chain(arm, joints)
    this.#sets = new JointSets(joints.length)
    this.#surface = -rig.craft.waterline
    this.#out = this.#surface + rig.stroke.clearance / 2
  }

  /** The blade rests, or what was seen is no stroke. */
  breaks(): void {
    this.#wasOut = false
    this.#last = Number.NaN
  }

  /** @param place of the joint in the arm; @param position rad */
  see(place: number, index: number, position: number, t: Nanos): void {
    if (!this.#sets.put(place, index, position)) return
    this.#chain.forward(this.#sets.q)
    const z = this.#chain.blade[11]!
    if (z > this.#out) this.#wasOut = true
    if (!this.#wasOut || z > this.#surface) return
    this.#wasOut = false
    const time = (t - this.#last) / 1e9
    this.#last = t
    if (!(time < LONGEST)) return
    this.least = Math.min(this.least, 1 / time)
    this.greatest = Math.max(this.greatest, 1 / time)
  }
}
