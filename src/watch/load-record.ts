/** What one joint's drive gave in a run, or would give: its peak and where that was, its heaviest stroke, its warmth. */
import type { Nanos } from '../clock.js'
import type { Rating } from '../files/rig.js'
import { MotorHeat } from '../motion/motor-heat.js'
import { POSE } from '../motion/pose.js'

export interface LoadFigures {
  /** N m, either way */
  readonly peak: number
  readonly peakAt: Nanos
  /** N m, RMS of the heaviest whole stroke, from catch to catch; null: there was none */
  readonly stroke: number | null
  readonly strokeAt: Nanos
  /** Shares of the allowed rise of temperature, cold at the start: at the end of the run, and of the trip; null: not known */
  readonly warm: number | null
  readonly trip: number | null
  /** The rise that strokes like these end with when they never end: (RMS / continuous)^2 */
  readonly steady: number
}

export class LoadRecord {
  /** T_craft_blade at the peak */
  readonly blade: Float64Array = new Float64Array(POSE)
  readonly #heat: MotorHeat
  readonly #strokes: MotorHeat
  readonly #period: number
  #peak = 0
  #peakAt: Nanos = 0
  /** (N m)^2 s and s since the last catch; negative: there was none yet */
  #squared = 0
  #time = -1
  #stroke = -1
  #strokeAt: Nanos = 0

  /** @param trip s, or null: nobody has said how long strokes go on @param period s, for which each torque counts */
  constructor(joint: string, { continuous, peak, warmUp }: Rating, trip: number | null, period: number) {
    const rating = { continuous, peak, timeConstant: warmUp }
    this.#heat = new MotorHeat(joint, rating, trip)
    this.#strokes = new MotorHeat(joint, rating, trip)
    this.#period = period
  }

  /** @param torque N m; one that is not told (NaN) is passed over @param blade T_craft_blade @param t that the torque is for */
  see(torque: number, blade: Float64Array, t: Nanos): void {
    if (!Number.isFinite(torque)) return
    this.#heat.see(torque, this.#period)
    if (Math.abs(torque) > this.#peak) {
      this.#peak = Math.abs(torque)
      this.#peakAt = t
      this.blade.set(blade)
    }
    if (this.#time < 0) return
    this.#squared += torque * torque * this.#period
    this.#time += this.#period
  }

  /** The blade catches: one stroke ends, the next begins. */
  catches(t: Nanos): void {
    if (this.#time > 0) {
      const rms = Math.sqrt(this.#squared / this.#time)
      this.#strokes.see(rms, this.#time)
      if (rms > this.#stroke) {
        this.#stroke = rms
        this.#strokeAt = t
      }
    }
    this.#squared = 0
    this.#time = 0
  }

  /** What is under way is no whole stroke. */
  breaks(): void {
    this.#time = -1
  }

  /** null: no torque was seen. Without a whole stroke the trip is one of all that was seen. */
  close(): LoadFigures | null {
    const heat = this.#heat.close()
    if (heat === null) return null
    const { rise, load } = this.#strokes.close() ?? heat
    return {
      peak: this.#peak,
      peakAt: this.#peakAt,
      stroke: this.#stroke < 0 ? null : this.#stroke,
      strokeAt: this.#strokeAt,
      warm: heat.end,
      trip: rise,
      steady: load,
    }
  }
}
