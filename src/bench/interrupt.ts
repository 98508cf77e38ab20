/** What ends a run from outside, for whoever plays it: at once where that is asked, at the next look elsewhere. */
import type { OutsideStop } from '../files/event.js'

export class Interrupt {
  #stop: OutsideStop | null = null
  #listener: ((stop: OutsideStop) => void) | null = null

  /** The first that was asked for, or null. */
  get stop(): OutsideStop | null {
    return this.#stop
  }

  ask(stop: OutsideStop): void {
    this.#stop ??= stop
    this.#listener?.(stop)
  }

  /** From now on, and for what was asked for already; null: nobody listens. */
  onAsk(listener: ((stop: OutsideStop) => void) | null): void {
    this.#listener = listener
    if (this.#stop) listener?.(this.#stop)
  }
}
