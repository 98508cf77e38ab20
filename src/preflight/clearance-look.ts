/** How near the arms come to anything on a scenario's commands, if they do exactly what the reference driver asks. */
import type { Look } from '../bench/scenario-walk.js'
import type { ClearanceSettings, Rig } from '../files/rig.js'
import { ClearanceSweep } from '../motion/clearance/sweep.js'
import { nearestPhase } from '../motion/nearest-phase.js'

/** Share of a distance beyond the warning to which the least is found. */
const COARSE = 0.01

export interface LeastDistance {
  /** m */
  readonly distance: number
  /** Two parts of arms, or a part of an arm and a volume. */
  readonly between: readonly [string, string]
  /** Of the stroke, for each of the arms that takes part. */
  readonly phases: readonly number[]
}

/** Each motion from one setpoint to the next is followed; the least distance is true to 1 mm, or to a hundredth. */
export class ClearanceLook implements Look {
  readonly #rig: Rig
  readonly #sweep: ClearanceSweep

  constructor(rig: Rig & { readonly clearance: ClearanceSettings }) {
    this.#rig = rig
    this.#sweep = new ClearanceSweep(rig, rig.clearance.warn, COARSE)
  }

  see(q: Float64Array, t: number): void {
    if (t === 0) this.#sweep.start(q, t)
    else this.#sweep.move(q, t)
  }

  /** null: there is nothing to come near to */
  get least(): LeastDistance | null {
    const sweep = this.#sweep
    const approaches = sweep.groups.flatMap((group, g) => {
      const nearest = sweep.nearest(g)
      return nearest === null ? [] : [{ group, nearest }]
    })
    if (approaches.length === 0) return null
    const { group, nearest } = approaches.reduce((a, b) => (b.nearest.distance < a.nearest.distance ? b : a))
    const arms = group.otherArm === null ? [group.arm] : [group.arm, group.otherArm]
    return {
      distance: nearest.distance,
      between: [nearest.first, nearest.second],
      phases: arms.map(
        (arm) => nearestPhase(this.#rig, this.#rig.arms[arm]!, sweep.bladeIn(arm, nearest)).phase,
      ),
    }
  }
}
