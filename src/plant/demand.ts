/**
 * The drive's position demand between setpoints: a straight line to the newest setpoint over the
 * interpolation period (60C2h), then at rest there until the next one.
 *
 * Not modelled: interpolation of higher order, extrapolation when a setpoint is missing, position limits of
 * the drive.
 */
import type { Nanos } from '../clock.js'

export class Demand {
  #from = 0
  #to = 0
  #start: Nanos = 0
  #period: Nanos = 0

  /** Stands at `position` (rad) from now on. */
  hold(position: number): void {
    this.#from = position
    this.#to = position
    this.#period = 0
  }

  /** From where it is at `t` to `target` (rad) in `period` ns; a period of 0 is a step. */
  move(t: Nanos, target: number, period: Nanos): void {
    this.#from = this.at(t)
    this.#to = target
    this.#start = t
    this.#period = period
  }

  /** rad at time `t` */
  at(t: Nanos): number {
    const since = t - this.#start
    if (since >= this.#period) return this.#to
    if (since <= 0) return this.#from
    return this.#from + ((this.#to - this.#from) * since) / this.#period
  }
}
