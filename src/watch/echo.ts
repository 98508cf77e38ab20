/**
 * Own echo: feedback that is the setpoint itself, sent back by a drive or an adapter, while nobody knows where the joint is.
 *
 * A setpoint of index k is carried out between SYNC k and k + 1. Feedback sampled at SYNC n that equals the setpoint of index n or n + 1 is
 * ahead of any motor: each such sample of a joint that moves counts, in full from steps of STEP counts on. One that equals index n - 1 or n - 2 is
 * a drive that follows without any error, or by a period exactly. Under an acceleration a, a position loop of natural frequency w is off
 * by a/w^2 (its steady state, as for a parabola); a loop of SERVO of the control rate is taken for the fastest there is, and such a sample
 * counts by how much of a count that loop would be off. Samples must follow one another without one that differs.
 *
 * After a stop there are no setpoints any more, and whatever the joint did, an echo is the last one, from the first or second sample on. A joint
 * that was led in motion is behind that place or runs on beyond it, and cannot stand there yet. Where it comes to rest at last may be that place.
 */
import type { Setpoints } from './setpoints.js'

const SERVO = 1 / 4
/** Periods over which acceleration is taken, so that it stands out from the rounding to counts, ROUNDED of which a second difference may have. */
const SPAN = 8
const ROUNDED = 2
/** Counts of a step that count in full. */
const STEP = 4
/** Setpoint indices beside the SYNC of the feedback that are compared: n + 1, n, n - 1, n - 2. */
const WAYS = 4
/** Samples in a row after a stop that must be the last setpoint, from which of them on at the latest. */
const STANDING = 3
const FROM = 2
/** Times its acceleration limit by which a joint may be slowed at most. */
const SLOWED = 2
/** How many SYNCs back setpoints must be kept for this. */
export const ECHO_BACK = 2 * SPAN + WAYS

export class Echo {
  /** [joint] greatest number of samples in a row that no motor could have made */
  readonly most: Float64Array
  readonly #run: Float64Array
  /** [joint] samples after the stop, and those in a row that were the last setpoint; NaN: one was not */
  readonly #after: Float64Array
  readonly #standing: Float64Array
  readonly #count: ArrayLike<number>
  readonly #setpoints: Setpoints
  /** Counts of loop error per count of second difference. */
  readonly #gain: number

  /** @param count [joint] rad of one count of feedback */
  constructor(setpoints: Setpoints, count: ArrayLike<number>) {
    this.#setpoints = setpoints
    this.#count = count
    this.most = new Float64Array(count.length)
    this.#run = new Float64Array(WAYS * count.length)
    this.#after = new Float64Array(count.length)
    this.#standing = new Float64Array(count.length)
    this.#gain = 1 / (SPAN * SPAN * (2 * Math.PI * SERVO) ** 2)
  }

  reset(): void {
    this.#run.fill(0)
  }

  /** Setpoints have ended. */
  stopped(): void {
    this.#after.fill(0)
    this.#standing.fill(0)
  }

  /** Feedback (rad) sampled at SYNC `n`. @returns the count of impossible samples in a row, at most of the ways to echo */
  see(j: number, n: number, position: number): number {
    const s = this.#setpoints
    const count = this.#count[j]!
    let most = 0
    for (let way = 0; way < WAYS; way++) {
      const index = n + 1 - way
      const x = s.at(j, index)
      const at = WAYS * j + way
      // Another scale of setpoints than of feedback rounds by half a count.
      if (!(Math.abs(position - x) <= 0.51 * count)) {
        this.#run[at] = 0
        continue
      }
      const worth = way < 2 ? this.#ahead(j, index, x) : this.#bent(j, index, x)
      const run = this.#run[at]! + Math.min(1, worth)
      this.#run[at] = run
      if (run > most) most = run
    }
    if (most > this.most[j]!) this.most[j] = most
    return most
  }

  /**
   * Feedback (rad) after a stop of arms that were led.
   * @param limit of the joint's acceleration, rad per period^2
   * @returns it was the last setpoint so often in a row, and so early, that it is an echo; said once
   */
  stands(j: number, position: number, limit: number): boolean {
    const s = this.#setpoints
    const last = s.at(j, Number.MAX_SAFE_INTEGER)
    const way = Math.abs(last - s.at(j, s.last(j) - 1))
    const count = this.#count[j]!
    const n = this.#after[j]! + 1
    this.#after[j] = n
    // So fast that it was not at rest yet where the row must begin.
    const fast = way >= Math.max(STEP * count, FROM * SLOWED * limit)
    if (fast && Math.abs(position - last) <= 0.51 * count) this.#standing[j] = this.#standing[j]! + 1
    else if (n >= FROM) this.#standing[j] = Number.NaN
    return this.#standing[j] === STANDING
  }

  #ahead(j: number, index: number, x: number): number {
    return Math.abs(x - this.#setpoints.at(j, index - 1)) / (STEP * this.#count[j]!)
  }

  #bent(j: number, index: number, x: number): number {
    const s = this.#setpoints
    const bend = Math.abs(x - 2 * s.at(j, index - SPAN) + s.at(j, index - 2 * SPAN)) / this.#count[j]!
    return this.#gain * Math.max(0, bend - ROUNDED)
  }
}
