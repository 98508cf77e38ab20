/**
 * How far a blade goes from a stop to still: the greatest distance of either corner of its tip from where it was at the
 * stop, by forward kinematics from sets of feedback that belong to one SYNC. The corners go farther than the centre.
 */
import type { Arm, Rig } from '../files/rig.js'
import { Chain } from '../motion/chain.js'
import { JointSets } from './joint-sets.js'

/** Two corners, x, y, z each. */
const NUMBERS = 6

export class BladeTravel {
  readonly #chain: Chain
  /** m, the corners in the blade's frame */
  readonly #corners: Float64Array
  /** rad */
  readonly #sets: JointSets
  #known = false
  #on = false
  /** m, craft frame */
  readonly #from = new Float64Array(NUMBERS)
  readonly #now = new Float64Array(NUMBERS)
  #farthest = Number.NaN

  constructor(rig: Rig, arm: Arm) {
    this.#chain = new Chain(
      arm,
      arm.joints.map((j) => rig.joints[j]!),
    )
    const { shaft: s, normal: n } = arm.tool
    const across = [n[1] * s[2] - n[2] * s[1], n[2] * s[0] - n[0] * s[2], n[0] * s[1] - n[1] * s[0]]
    const { length, width } = arm.paddle
    this.#corners = Float64Array.from({ length: NUMBERS }, (_, i) => {
      const side = i < 3 ? 1 : -1
      return (s[i % 3]! * length + side * across[i % 3]! * width) / 2
    })
    this.#sets = new JointSets(arm.joints.length)
  }

  /** m; NaN: there was no stop, or no complete feedback after it */
  get farthest(): number {
    return this.#farthest
  }

  /** @param place of the joint in the arm; @param position rad */
  feedback(place: number, index: number, position: number): void {
    if (!this.#sets.put(place, index, position)) return
    this.#known = true
    if (this.#on) this.#measure()
  }

  /** A stop, which goes on until `end`. */
  begin(): void {
    this.#farthest = Number.NaN
    this.#on = this.#known
    if (this.#on) this.#place(this.#from)
  }

  /** All joints of the arm are still. */
  end(): void {
    this.#on = false
  }

  #measure(): void {
    this.#place(this.#now)
    for (let c = 0; c < NUMBERS; c += 3) {
      const way = Math.hypot(
        this.#now[c]! - this.#from[c]!,
        this.#now[c + 1]! - this.#from[c + 1]!,
        this.#now[c + 2]! - this.#from[c + 2]!,
      )
      if (!(way <= this.#farthest)) this.#farthest = way
    }
  }

  #place(out: Float64Array): void {
    this.#chain.forward(this.#sets.q)
    const t = this.#chain.blade
    for (let i = 0; i < NUMBERS; i++) {
      const c = i - (i % 3)
      const row = 3 * (i % 3)
      const along =
        t[row]! * this.#corners[c]! +
        t[row + 1]! * this.#corners[c + 1]! +
        t[row + 2]! * this.#corners[c + 2]!
      out[i] = t[9 + (i % 3)]! + along
    }
  }
}
