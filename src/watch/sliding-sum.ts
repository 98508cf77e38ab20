/** A sum over the last `span` of time that slides in steps of `step`, in fixed memory. */
import type { Nanos } from '../clock.js'

export class SlidingSum {
  /** Sum over the last full steps. */
  sum = 0
  /** Greatest `sum` so far. */
  peak = 0
  readonly #step: Nanos
  readonly #ring: Float64Array
  #current = -1
  #open = 0

  /** @param span a whole multiple of @param step */
  constructor(span: Nanos, step: Nanos) {
    this.#step = step
    this.#ring = new Float64Array(span / step)
  }

  /** Adds `value` at time `t`, not before the last one; true when `sum` was brought up to date. */
  add(value: number, t: Nanos): boolean {
    const step = Math.floor(t / this.#step)
    if (step === this.#current) {
      this.#open += value
      return false
    }
    if (this.#current >= 0) this.#advance(step)
    this.#current = step
    this.#open = value
    return true
  }

  #advance(to: number): void {
    const ring = this.#ring
    const n = ring.length
    // The step that ends now, then the empty ones after it; more than a whole turn changes nothing further.
    for (let s = this.#current, added = this.#open; s < Math.min(to, this.#current + n + 1); s++, added = 0) {
      this.sum += added - ring[s % n]!
      ring[s % n] = added
      if (this.sum > this.peak) this.peak = this.sum
    }
  }
}
