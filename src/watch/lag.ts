/**
 * The lag of one joint, learned from motion: of a grid of delays (a quarter of a period apart, up to twice the longest
 * that passes) the one whose squared following error, summed over the learning window, is least; a parabola through
 * the sums beside it gives the fraction. The window is the first stretch of motion that is fast enough, half of it in each
 * direction: a constant offset (a load that the position loop lets sag) then cancels instead of passing for lag.
 */

import type { Setpoints } from './setpoints.js'
import type { WatchSettings } from './settings.js'

/** Grid steps a period. */
const STEPS = 4

export class LagLearner {
  /** periods; NaN while not learned */
  lag = Number.NaN
  readonly #sums: Float64Array
  readonly #half: number
  readonly #speed: number
  readonly #period: number
  #ahead = 0
  #back = 0

  /** @param period s, control period */
  constructor(settings: WatchSettings['tracking']['lag'], period: number) {
    this.#sums = new Float64Array(Math.ceil((2 * settings.most * STEPS) / period) + 2)
    this.#half = Math.max(1, Math.ceil(settings.learn / 2 / period - 1e-9))
    this.#speed = settings.speed * period
    this.#period = period
  }

  /** s of motion that count so far. */
  get learned(): number {
    return (this.#ahead + this.#back) * this.#period
  }

  /** Feedback (rad) sampled at SYNC `index`; true when the lag has become known by it. */
  see(setpoints: Setpoints, joint: number, index: number, position: number): boolean {
    const step = setpoints.at(joint, index - 1) - setpoints.at(joint, index - 2)
    if (step >= this.#speed && this.#ahead < this.#half) this.#ahead++
    else if (step <= -this.#speed && this.#back < this.#half) this.#back++
    else return false
    const sums = this.#sums
    for (let i = 0; i < sums.length; i++) {
      const error = setpoints.between(joint, index - 1 - i / STEPS) - position
      sums[i] = sums[i]! + error * error
    }
    if (this.#ahead < this.#half || this.#back < this.#half) return false
    this.lag = leastOf(sums) / STEPS
    return true
  }
}

/** Place of the least value, with a fraction from the parabola through it and its neighbours. */
function leastOf(sums: Float64Array): number {
  let best = 0
  for (let i = 1; i < sums.length; i++) if (sums[i]! < sums[best]!) best = i
  if (best === 0 || best === sums.length - 1) return best
  const before = sums[best - 1]!
  const after = sums[best + 1]!
  const bend = before - 2 * sums[best]! + after
  return bend > 0 ? best + (before - after) / (2 * bend) : best
}
