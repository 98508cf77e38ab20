/** Which joints move, by the arms' own truth: what an eye beside them would say, not what their drives report. A fold. */
import type { Nanos } from '../clock.js'
import type { Rig } from '../files/rig.js'
import { Still } from '../motion/still.js'

/** A joint began to move, or has come to rest; `since` is when, `at` is where (rad). */
export interface MotionChange {
  readonly joint: number
  readonly moving: boolean
  readonly since: Nanos
  readonly at: number
}

export class MotionTruth {
  readonly #joints: { readonly still: Still; moving: boolean }[]

  constructor({ joints, stop }: Pick<Rig, 'joints' | 'stop'>) {
    this.#joints = joints.map(() => ({ still: new Still(stop.still.speed, stop.still.hold), moving: true }))
  }

  /** @param positions rad, rig order, at `t` @returns what changed, as far as it is known: rest shows only after the hold time */
  see(positions: Float64Array, t: Nanos): MotionChange[] {
    const changes: MotionChange[] = []
    this.#joints.forEach((j, joint) => {
      j.still.see(positions[joint]!, t)
      const { since } = j.still
      if (j.moving !== (since !== null)) return
      j.moving = since === null
      changes.push({ joint, moving: j.moving, since: since ?? t, at: positions[joint]! })
    })
    return changes
  }

  moving(joint: number): boolean {
    return this.#joints[joint]!.moving
  }
}
