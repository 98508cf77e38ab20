/**
 * Whether a joint's motor bears its strokes: the torque that heats it against what it may give for ever, and its peaks against
 * what it may give at all. A fold over one stroke or many.
 *
 * Heat in a winding goes with the square of the current, and so of the torque; the temperature follows with one time constant T. Of
 * the rise r that continuous torque ends with, a torque tau that is held for a time t leaves r' = s + (r - s) exp(-t/T), s = (tau /
 * continuous)^2: that is how a run is followed, step by step. A trip of strokes that are short beside T comes to
 * (rms / continuous)^2 (1 - exp(-t/T)). Source: W. Leonhard, "Control of Electrical Drives", 3rd ed. (2001), ch. 4 (from memory). One body
 * of one temperature, cold at the start, air as at rating, copper losses alone: a winding peaks faster than its housing, and iron and
 * friction warm it at high speed.
 */
import { DrystrokeError } from '../errors.js'
import { expectPositive } from './bounds.js'

export interface MotorRating {
  /** N m at the joint, for ever */
  readonly continuous: number
  /** N m at the joint, at most */
  readonly peak: number
  /** s, thermal time constant; null: not stated, and nothing is said of rises */
  readonly timeConstant: number | null
}

export interface MotorHeatFigures {
  /** s that were seen */
  readonly duration: number
  /** N m */
  readonly rms: number
  /** (rms / continuous)^2: the rise at the end of a trip without end, as a share of the allowed one; above 1 it overheats some time */
  readonly load: number
  /** The rise at the end of what was seen, as a share of the allowed one; null without a time constant */
  readonly end: number | null
  /** The rise at the end of the trip, cold at its start, as a share of the allowed one; null without a time constant or a trip */
  readonly rise: number | null
  /** N m, the largest torque either way */
  readonly peak: number
  /** Of the peak rating */
  readonly peakShare: number
}

export class MotorHeat {
  readonly #rating: MotorRating
  readonly #trip: number | null
  readonly #joint: string
  #squared = 0
  #time = 0
  #peak = 0
  #end = 0
  /** s, of the last step, and what is left of a rise after it */
  #step = 0
  #left = 1

  /**
   * @param joint its name, for messages; @param trip s, how long strokes like those that are seen go on; null: nobody has said
   * @throws DrystrokeError `file-invalid` for ratings of zero or less, or a peak below the continuous torque
   */
  constructor(joint: string, rating: MotorRating, trip: number | null) {
    expectPositive(`joint ${joint}: continuous torque`, rating.continuous, 'N m')
    expectPositive(`joint ${joint}: peak torque`, rating.peak, 'N m')
    if (rating.timeConstant !== null)
      expectPositive(`joint ${joint}: thermal time constant`, rating.timeConstant, 's')
    if (trip !== null) expectPositive('trip', trip, 's')
    if (rating.peak < rating.continuous) {
      throw new DrystrokeError(
        'file-invalid',
        `joint ${joint}: peak torque ${rating.peak} N m is below its continuous torque ${rating.continuous} N m; see which is which`,
        { joint },
      )
    }
    this.#joint = joint
    this.#rating = rating
    this.#trip = trip
  }

  /** @param torque N m at the joint, held for @param dt s; @throws DrystrokeError `defect` for a torque that is no number or a time that is none */
  see(torque: number, dt: number): void {
    if (!Number.isFinite(torque) || !(dt > 0 && dt < Number.POSITIVE_INFINITY)) {
      throw new DrystrokeError(
        'defect',
        `joint ${this.#joint}: a torque of ${torque} N m for ${dt} s; expected finite numbers and a time above zero`,
        { joint: this.#joint },
      )
    }
    this.#squared += torque * torque * dt
    this.#time += dt
    this.#peak = Math.max(this.#peak, Math.abs(torque))
    const { continuous, timeConstant } = this.#rating
    if (timeConstant === null) return
    if (dt !== this.#step) {
      this.#step = dt
      this.#left = Math.exp(-dt / timeConstant)
    }
    const steady = (torque / continuous) ** 2
    this.#end = steady + (this.#end - steady) * this.#left
  }

  /** null when nothing was seen. */
  close(): MotorHeatFigures | null {
    if (this.#time === 0) return null
    const { continuous, peak, timeConstant } = this.#rating
    const load = this.#squared / this.#time / continuous ** 2
    return {
      duration: this.#time,
      rms: Math.sqrt(this.#squared / this.#time),
      load,
      end: timeConstant === null ? null : this.#end,
      rise:
        timeConstant === null || this.#trip === null ? null : -load * Math.expm1(-this.#trip / timeConstant),
      peak: this.#peak,
      peakShare: this.#peak / peak,
    }
  }
}
