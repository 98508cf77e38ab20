/** The slow motion from the measured pose to the park pose, all joints together, a share of each joint's limits. */
import type { Rig } from '../files/rig.js'
import { JointMove } from '../motion/quintic.js'

export class Approach {
  readonly #move: JointMove
  readonly #period: number
  #ticks = 0

  /** @param from rad, where the joints are held; @param to rad, the park pose */
  constructor(rig: Rig, from: Float64Array, to: Float64Array) {
    this.#period = rig.control.period
    this.#move = new JointMove(
      from,
      to,
      rig.joints.map((j) => j.limits),
      rig.link.approach,
    )
  }

  /** Setpoints of the next period. @returns true once they are the park pose */
  step(out: Float64Array): boolean {
    const t = ++this.#ticks * this.#period
    this.#move.at(t, out)
    return t >= this.#move.duration
  }
}
