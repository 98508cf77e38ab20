/** How fast the phase of a steady stroke runs at each of its places. One serves all arms of a rig. */
import { type CadenceSettings, recoveryRate } from '../../motion/cadence.js'
import type { StrokeShape } from '../../motion/stroke.js'
import { STEPS } from './stroke-poses.js'

/** Phase difference for the slope of the recovery's weight. */
const FINE = 1e-5

export class StrokePace {
  /** 1/s, of the phase at phase i / STEPS in the last `run`; below zero astern */
  readonly rates = new Float64Array(STEPS)
  /** 1/s, its slope over the phase */
  readonly rises = new Float64Array(STEPS)
  /** s, until the next place */
  readonly lasts = new Float64Array(STEPS)
  /** s, of a whole stroke */
  period = 0
  readonly #cadence: CadenceSettings
  /** Of the recovery in the rate, and its slope over the phase */
  readonly #weights = new Float64Array(STEPS)
  readonly #slopes = new Float64Array(STEPS)

  constructor(shape: StrokeShape, cadence: CadenceSettings) {
    this.#cadence = cadence
    for (let i = 0; i < STEPS; i++) {
      const phase = i / STEPS
      this.#weights[i] = shape.recovery(phase)
      const [down, up] = [(phase - FINE + 1) % 1, phase + FINE]
      this.#slopes[i] = (shape.recovery(up) - shape.recovery(down)) / (2 * FINE)
    }
  }

  /** @param u m/s of the blade against the craft on a stroke of full length, ahead +, not zero */
  run(u: number): void {
    const even = u / this.#cadence.kappa
    const extra = recoveryRate(u, this.#cadence) - even
    this.period = 0
    for (let i = 0; i < STEPS; i++) {
      const rate = even + this.#weights[i]! * extra
      this.rates[i] = rate
      this.rises[i] = this.#slopes[i]! * extra
      this.lasts[i] = 1 / (STEPS * Math.abs(rate))
      this.period += this.lasts[i]!
    }
  }
}
