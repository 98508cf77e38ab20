/**
 * Counts control periods on a bus without SYNC whose arms send feedback by themselves, so that feedback can be paired with
 * setpoints as on a bus with SYNC. A period begins with the first setpoint of a cycle; while no setpoints flow it is counted
 * by time. Feedback is counted from one frame to the next, half a period of jitter either way, as long as it stays within a
 * period of that count: clocks of arms drift, and then one is lost or doubled now and again.
 */
import type { Nanos } from '../../clock.js'

/** Setpoints that come after more periods than this follow a pause. */
const PAUSE = 3.5

export class Cycles {
  readonly #period: Nanos
  #index = -1
  #began: Nanos = 0
  readonly #feedback: { index: number; t: Nanos }[]

  /** @param period s @param joints on the bus */
  constructor(period: number, joints: number) {
    this.#period = period * 1e9
    this.#feedback = Array.from({ length: joints }, () => ({ index: -1, t: 0 }))
  }

  /** A cycle begins. @returns its index */
  begin(t: Nanos): number {
    const gap = (t - this.#began) / this.#period
    this.#index += this.#index >= 0 && gap > PAUSE ? Math.round(gap) : 1
    this.#began = t
    return this.#index
  }

  /** Index of the running cycle, -1 before the first. */
  get index(): number {
    return this.#index
  }

  /** Feedback of the n-th joint on the bus. @returns the index of the cycle that it belongs to, -1 before the first */
  feedback(n: number, t: Nanos): number {
    if (this.#index < 0) return -1
    const last = this.#feedback[n]!
    const now = this.#index + Math.floor((t - this.#began) / this.#period)
    const next = last.index + Math.round((t - last.t) / this.#period)
    const index = last.index >= 0 && Math.abs(next - now) <= 1 ? next : now
    this.#feedback[n] = { index, t }
    return index
  }
}
