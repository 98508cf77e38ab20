/**
 * Feedback that is not what it should be, and what it is instead. It is held against the true position where somebody sees the arms, and
 * against the setpoints while the arms are led; when it stays off, the last second is looked through for a simple explanation (likeness.ts).
 *
 * That search takes a moment: it is made at a tick, when a stop for the same reason has gone out long since.
 */
import type { Rig } from '../files/rig.js'
import type { Against } from './feedback-findings.js'
import type { FeedbackHistory } from './feedback-history.js'
import { type Bounds, type Cause, type Evidence, likeness, partnerOf } from './likeness.js'

/** What a joint, or a whole arm, is like. */
export type Suspicion =
  | { readonly joint: number; readonly cause: Cause }
  | { readonly arm: number; readonly other: number }

/** Joints of an arm that must all be off, and all another arm's, before arms are said to be swapped. */
const LEAST_SWAPPED = 2
/** Ticks between two searches while a joint stays off and nothing explains it. */
const PAUSE = 16
const NOTHING: readonly never[] = []

export class FeedbackSuspects {
  readonly #rig: Rig
  readonly #history: FeedbackHistory
  readonly #against: Against
  readonly #bounds: Bounds
  /** [joint] samples in a row that were off */
  readonly #off: Float64Array
  readonly #told: Uint8Array
  #pause = 0

  constructor(rig: Rig, history: FeedbackHistory, against: Against, bounds: Bounds) {
    this.#rig = rig
    this.#history = history
    this.#against = against
    this.#bounds = bounds
    this.#off = new Float64Array(rig.joints.length)
    this.#told = new Uint8Array(rig.joints.length)
  }

  sample(j: number, off: boolean): void {
    this.#off[j] = off ? this.#off[j]! + 1 : 0
  }

  reset(): void {
    this.#off.fill(0)
  }

  /** Something was said of this joint, and is not said again. */
  isTold(j: number): boolean {
    return this.#told[j] === 1
  }

  /**
   * Once a tick. What explains the joints that are off; those that nothing explains (yet) are left out.
   * @param least samples in a row that a joint must have been off for the search to begin
   * @param led the arms have been led already: what was right then is not explained by where it rests now
   */
  search(least: number, led: boolean): readonly Suspicion[] {
    if (this.#pause > 0) this.#pause--
    const rows = this.#against === 'setpoint' ? this.#history.led : this.#history.witnessed
    if (this.#pause > 0 || rows <= this.#bounds.lags || !this.#due(least)) return NOTHING
    this.#pause = PAUSE
    const off = this.#rig.joints.filter((j) => this.#off[j.index]! > 0 && !this.isTold(j.index))
    const what = this.#against === 'setpoint' ? 'asked' : 'true'
    const meant = this.#rig.joints.map(({ index }) => this.#history.series(what, index, rows))
    const evidence = off.map(
      ({ index }): Evidence => ({ feedback: this.#history.series('reported', index, rows), meant }),
    )
    const bounds = { ...this.#bounds, atRest: this.#bounds.atRest && !led }
    const arms = this.#swapped(
      off.map((j) => j.index),
      evidence,
      bounds,
    )
    // With an arm everything is said of its joints, of those too that happen to be where their likes are.
    for (const { arm } of arms) for (const j of this.#rig.arms[arm]!.joints) this.#told[j] = 1
    const joints = off.flatMap(({ index: joint, arm }, i) => {
      if (arms.some((s) => s.arm === arm)) return []
      const cause = likeness(this.#rig.joints, joint, evidence[i]!, bounds)
      if (cause === null) return []
      this.#told[joint] = 1
      return [{ joint, cause }]
    })
    return [...arms, ...joints]
  }

  #due(least: number): boolean {
    for (let j = 0; j < this.#off.length; j++) if (this.#off[j]! >= least && this.#told[j] === 0) return true
    return false
  }

  #swapped(off: readonly number[], evidence: readonly Evidence[], bounds: Bounds) {
    const { arms, joints } = this.#rig
    return arms.flatMap(({ index: arm, joints: own }) => {
      const mine = off.filter((j) => joints[j]!.arm === arm)
      if (mine.length < LEAST_SWAPPED) return []
      const partners = mine.map((j) => partnerOf(joints, j, evidence[off.indexOf(j)]!, bounds))
      const other = arms.find(
        (a) => a.index !== arm && mine.every((j, i) => partners[i] === a.joints[own.indexOf(j)]),
      )
      return other ? [{ arm, other: other.index }] : []
    })
  }
}
