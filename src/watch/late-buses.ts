import { type Nanos, nanos } from '../clock.js'
import type { Rig } from '../files/rig.js'
import { FeedbackCount } from './feedback-count.js'

/**
 * Buses on which the feedback of every joint came only after the next SYNC: what carries them was held up, or who answers, and not one drive.
 * Simulated arms in a process of their own have then moved by a SYNC that reached them late.
 */
export class LateBuses {
  times = 0
  /** When it was seen last. */
  t: Nanos = 0
  readonly #rig: Rig
  readonly #counts: readonly FeedbackCount[]
  /** When each joint's feedback was late last. */
  readonly #late: Float64Array

  constructor(rig: Rig) {
    this.#rig = rig
    this.#counts = rig.joints.map(() => new FeedbackCount())
    this.#late = new Float64Array(rig.joints.length).fill(Number.NEGATIVE_INFINITY)
  }

  /** @param index of the SYNC that this feedback answers */
  see(joint: number, index: number, t: Nanos): void {
    if (!this.#counts[joint]!.see(index)) return
    this.#late[joint] = t
    const { joints, control } = this.#rig
    const { bus } = joints[joint]!.wire
    const beside = joints.filter((j) => j.wire.bus === bus)
    if (!beside.every((j) => t - this.#late[j.index]! < nanos(control.period))) return
    for (const j of beside) this.#late[j.index] = Number.NEGATIVE_INFINITY
    this.times++
    this.t = t
  }

  /** What comes next is the first again. */
  begin(): void {
    for (const count of this.#counts) count.begin()
  }
}
