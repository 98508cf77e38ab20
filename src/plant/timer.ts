/** A call-back that can be asked for again and again and fires once for the earliest time asked. */
import type { Nanos, Scheduler } from '../clock.js'

export class Timer {
  readonly #scheduler: Scheduler
  readonly #fired: () => void
  #due = Number.POSITIVE_INFINITY
  #generation = 0

  constructor(scheduler: Scheduler, fired: () => void) {
    this.#scheduler = scheduler
    this.#fired = fired
  }

  /** Asks for a call at `t`; Infinity asks for nothing. A call already due earlier stands. */
  at(t: Nanos): void {
    if (t >= this.#due) return
    this.#due = t
    const generation = ++this.#generation
    this.#scheduler.at(t, () => {
      if (generation !== this.#generation) return
      this.#due = Number.POSITIVE_INFINITY
      this.#fired()
    })
  }

  /** Takes back what was asked for. */
  cancel(): void {
    this.#due = Number.POSITIVE_INFINITY
    this.#generation++
  }
}
