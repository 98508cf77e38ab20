/**
 * How warm a simulated drive is: one body with one time constant, towards a rise that goes with the square of the torque
 * (motion/motor-heat.ts says more); at its continuous torque it ends 80 K above the air. Looked at now and then: the torque of one look
 * is taken for the whole time since the one before.
 *
 * Invented: 80 K, and 10 min for a drive of which no time constant is stated. Not modelled: housing and winding apart, losses but those of copper.
 */
import { type Nanos, NS_PER_S } from '../clock.js'
import type { Joint } from '../files/rig.js'

/** K, rise at the continuous torque. */
const RISE = 80
/** s */
const USUAL_WARM_UP = 600

export class Winding {
  /** K that a fault adds, at once. */
  hotter = 0
  readonly #ambient: number
  readonly #continuous: number
  readonly #warmUp: number
  #rise = 0
  #seen: Nanos = 0

  /** @param ambient degC */
  constructor({ rating, limits }: Pick<Joint, 'rating' | 'limits'>, ambient: number) {
    this.#ambient = ambient
    this.#continuous = rating?.continuous ?? limits.torque
    this.#warmUp = rating?.warmUp ?? USUAL_WARM_UP
  }

  /** degC. @param torque N m that the motor gives now; @param t not before the last look */
  temperature(torque: number, t: Nanos): number {
    const end = RISE * (torque / this.#continuous) ** 2
    this.#rise = end + (this.#rise - end) * Math.exp(-(t - this.#seen) / NS_PER_S / this.#warmUp)
    this.#seen = t
    return this.#ambient + this.#rise + this.hotter
  }
}
