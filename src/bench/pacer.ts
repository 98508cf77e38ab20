/**
 * Which deadlines a loop serves: tick number k is due at `k period`, and no deadline moves. A loop that was held
 * up does not catch up in a burst: of the deadlines that have passed only the last is served, the others are missed, and
 * so is the next one when it is less than half a period away, or less than a quarter once the tick is through.
 */
import type { Nanos } from '../clock.js'

export class Pacer {
  /** ns since the first deadline that was not served or left out on purpose, of the tick that begins */
  late: Nanos = 0
  /** deadlines without a tick just before it */
  missed = 0
  readonly #start: Nanos
  readonly #period: number
  #k = 0
  #served = -1
  /** The first deadline after the last one served that was not left out on purpose. */
  #owed = 0

  /** @param start ns, of the first deadline @param period ns; need not be whole */
  constructor(start: Nanos, period: number) {
    this.#start = start
    this.#period = period
  }

  /** Of the tick that comes next. */
  get due(): Nanos {
    return this.#due(this.#k)
  }

  /** A tick begins at `now`. */
  begin(now: Nanos): void {
    const period = this.#period
    this.late = now - this.#due(this.#owed)
    this.#k += Math.max(0, Math.floor((now - this.#due(this.#k)) / period))
    this.missed = this.#k - this.#served - 1
    this.#served = this.#k++
    // Two ticks closer than half a period would find the setpoints of the first still waiting on the bus.
    if (this.#due(this.#k) - now < period / 2) this.#k++
    this.#owed = this.#k
  }

  /** The tick is through. */
  end(now: Nanos): void {
    // A tick that was held up itself makes the next one late, however punctual that is at its own deadline.
    const passed = this.#due(this.#owed) <= now
    // And one that comes right after it would be too close.
    while (this.#due(this.#k) - now < this.#period / 4) this.#k++
    if (!passed) this.#owed = this.#k
  }

  #due(n: number): Nanos {
    return this.#start + Math.round(n * this.#period)
  }
}
