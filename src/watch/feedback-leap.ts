/**
 * Feedback that leaps: from one frame to the next it goes farther than the joint could have gone, at `leap` times its speed limit for the time
 * between them and one period more (a frame may be late by so much, the next one not). Encoder noise is allowed on top.
 */
import type { Nanos } from '../clock.js'
import type { Rig } from '../files/rig.js'
import { positionNoise } from './noise.js'

/** Standard deviations of the difference of two readings. */
const SIGMAS = 6

export class FeedbackLeap {
  /** rad, of the last leap: signed, what was permitted, and what motion within the limit and noise may have of it. */
  size = 0
  permitted = 0
  doubt = 0
  readonly #leap: number
  readonly #speed: Float64Array
  readonly #noise: Float64Array
  readonly #period: number
  readonly #position: Float64Array
  readonly #t: Float64Array

  /** @param leap times the speed limit */
  constructor({ joints, control, simulation }: Rig, leap: number) {
    this.#speed = Float64Array.from(joints, (j) => j.limits.speed)
    this.#noise = Float64Array.from(
      joints,
      (j) => SIGMAS * Math.SQRT2 * positionNoise(j, simulation.feedback.noise),
    )
    this.#leap = leap
    this.#period = control.period
    this.#position = new Float64Array(joints.length).fill(Number.NaN)
    this.#t = new Float64Array(joints.length)
  }

  /** @param position rad @param t ns @returns it leapt */
  see(j: number, position: number, t: Nanos): boolean {
    const size = position - this.#position[j]!
    const since = (t - this.#t[j]!) / 1e9
    const permitted = this.#leap * this.#speed[j]! * (since + this.#period) + this.#noise[j]!
    this.#position[j] = position
    this.#t[j] = t
    if (!(Math.abs(size) > permitted)) return false
    this.size = size
    this.permitted = permitted
    this.doubt = this.#speed[j]! * Math.max(since, this.#period) + this.#noise[j]!
    return true
  }
}
