/**
 * How the setpoints of each joint go on from one period to the next: position, speed, acceleration and its change by backward differences,
 * held against the joint's limits. A value that a frame carries is rounded to a whole count, and differences of rounded values are off by
 * up to 2, 4 and 8 times that rounding: so much is allowed on top.
 *
 * The change of acceleration in a period (jerk times period) has its limit from that of acceleration A: this may build up in the time
 * `rise` and no faster, so that a period T permits A T / rise.
 */
import type { Rig } from '../files/rig.js'

export type CourseQuantity = 'position' | 'speed' | 'acceleration' | 'change of acceleration'

/** Limits that are met exactly must not look like breaches. */
const ROUNDING = 1 + 1e-6

export class SetpointCourse {
  /** Of the last breach: what was beyond what (rad and s). */
  value = 0
  limit = 0
  /** [joint] rad/s2, greatest while it was judged */
  readonly peakAcceleration: Float64Array
  readonly peakChange: Float64Array
  readonly #rig: Rig
  readonly #period: number
  readonly #rise: number
  readonly #rounding: ArrayLike<number>
  /** [joint] the last values, newest first, their count up to three, and the period of the newest */
  readonly #x1: Float64Array
  readonly #x2: Float64Array
  readonly #x3: Float64Array
  readonly #known: Uint8Array
  readonly #index: Float64Array

  /** @param rounding [joint] rad, how far a value may be off for having been rounded @param rise s */
  constructor(rig: Rig, rounding: ArrayLike<number>, rise: number) {
    const n = rig.joints.length
    this.#rig = rig
    this.#period = rig.control.period
    this.#rise = rise
    this.#rounding = rounding
    this.peakAcceleration = new Float64Array(n)
    this.peakChange = new Float64Array(n)
    this.#x1 = new Float64Array(n)
    this.#x2 = new Float64Array(n)
    this.#x3 = new Float64Array(n)
    this.#known = new Uint8Array(n)
    this.#index = new Float64Array(n)
  }

  /** rad/s2, by how much a joint's acceleration may change in one period */
  changeLimit(j: number): number {
    return (this.#rig.joints[j]!.limits.acceleration * this.#period) / this.#rise
  }

  /** What came before says nothing about what comes. */
  reset(): void {
    this.#known.fill(0)
  }

  /** Of what came before only the last value counts. */
  begin(): void {
    for (let j = 0; j < this.#known.length; j++) this.#known[j] = Math.min(this.#known[j]!, 1)
  }

  /**
   * @param index of the period that the setpoint is for @param x rad
   * @param judged false: it is only remembered
   * @returns what is beyond its limit (`value`, `limit`), or null
   */
  put(j: number, index: number, x: number, judged: boolean): CourseQuantity | null {
    const gap = index - this.#index[j]!
    const known = this.#known[j]!
    const x1 = this.#x1[j]!
    const x2 = this.#x2[j]!
    const x3 = this.#x3[j]!
    // A second word in the same period takes the place of the first.
    const again = known > 0 && gap <= 0
    if (!again) {
      this.#x3[j] = x2
      this.#x2[j] = x1
      this.#known[j] = gap === 1 ? Math.min(known + 1, 3) : 1
      this.#index[j] = index
    }
    this.#x1[j] = x
    if (!judged) return null
    const found = this.#position(j, x)
    if (found !== null || again || known === 0) return found
    return this.#differences(j, gap, gap === 1 ? known : 1, x, x1, x2, x3)
  }

  #position(j: number, x: number): CourseQuantity | null {
    const { lower, upper } = this.#rig.joints[j]!.limits
    const r = this.#rounding[j]!
    if (x <= upper + r && x >= lower - r) return null
    return this.#beyond('position', x, x > upper ? upper : lower)
  }

  #differences(
    j: number,
    gap: number,
    known: number,
    x: number,
    x1: number,
    x2: number,
    x3: number,
  ): CourseQuantity | null {
    const { limits } = this.#rig.joints[j]!
    const T = this.#period
    const r = this.#rounding[j]!
    const speed = Math.abs(x - x1) / (gap * T)
    const most = limits.speed * this.#rig.motion.speedCap
    if (speed > most * ROUNDING + (2 * r) / (gap * T)) return this.#beyond('speed', speed, most)
    if (known < 2) return null
    const acceleration = Math.abs(x - 2 * x1 + x2) / (T * T)
    if (acceleration > this.peakAcceleration[j]!) this.peakAcceleration[j] = acceleration
    if (acceleration > limits.acceleration * ROUNDING + (4 * r) / (T * T))
      return this.#beyond('acceleration', acceleration, limits.acceleration)
    if (known < 3) return null
    const change = Math.abs(x - 3 * x1 + 3 * x2 - x3) / (T * T)
    if (change > this.peakChange[j]!) this.peakChange[j] = change
    const limit = this.changeLimit(j)
    return change > limit * ROUNDING + (8 * r) / (T * T)
      ? this.#beyond('change of acceleration', change, limit)
      : null
  }

  #beyond(quantity: CourseQuantity, value: number, limit: number): CourseQuantity {
    this.value = value
    this.limit = limit
    return quantity
  }
}
