/**
 * Follows a target with limited slope and limited change of slope: for a speed these are acceleration and jerk.
 *
 * Discrete and exact. With period h, bound A on the slope and d = J h on its change a period, a slope a that is taken
 * down as fast as allowed (a, a - d, a - 2d, ...) still adds h ((k+1) a - d k (k+1)/2), k = floor(a/d). Each period takes
 * the greatest slope whose sum does not pass the target, so a resting target is met exactly, in finite time and
 * without overshoot. A target that comes nearer while the slope is high may be passed: the limits leave no choice.
 */
export interface SlewState {
  readonly value: number
  readonly slope: number
}

export class Slew {
  value = 0
  /** Change of `value` over the last period, per second. */
  slope = 0
  readonly #limit: number
  readonly #change: number
  readonly #period: number

  /** @param limit greatest |slope|, 1/s; @param jerk greatest change of slope, 1/s2; @param period s */
  constructor(limit: number, jerk: number, period: number) {
    this.#limit = limit
    this.#change = jerk * period
    this.#period = period
  }

  /** At rest at `value`. */
  reset(value: number): void {
    this.value = value
    this.slope = 0
  }

  keep(): SlewState {
    return { value: this.value, slope: this.slope }
  }

  restore({ value, slope }: SlewState): void {
    this.value = value
    this.slope = slope
  }

  /** One period towards `target`. */
  step(target: number): void {
    const h = this.#period
    const d = this.#change
    const gap = target - this.value
    if (Math.abs(gap) <= 1e-13 && Math.abs(this.slope) <= d) {
      this.value = target
      this.slope = 0
      return
    }
    const wanted = Math.abs(gap) / h
    const k = Math.floor((Math.sqrt(1 + (8 * wanted) / d) - 1) / 2)
    const size = Math.min((wanted + (d * k * (k + 1)) / 2) / (k + 1), this.#limit)
    const slope = Math.min(Math.max(Math.sign(gap) * size, this.slope - d), this.slope + d)
    this.slope = slope
    this.value += slope * h
  }
}
