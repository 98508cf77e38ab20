/**
 * Standstill: a joint is still once it has stayed within speed x hold of one place for `hold`: its mean speed over
 * that time is below the threshold, whatever single counts of encoder noise do.
 */
import type { Nanos } from '../clock.js'

export class Still {
  readonly #band: number
  readonly #hold: Nanos
  #place = Number.NaN
  #since: Nanos = 0
  #seen: Nanos = 0

  /** @param speed rad/s @param hold s */
  constructor(speed: number, hold: number) {
    this.#band = speed * hold
    this.#hold = hold * 1e9
  }

  /** @param position rad */
  see(position: number, t: Nanos): void {
    if (!(Math.abs(position - this.#place) <= this.#band)) {
      this.#place = position
      this.#since = t
    }
    this.#seen = t
  }

  /** When the joint came to rest, or null while it has not. */
  get since(): Nanos | null {
    return Number.isNaN(this.#place) || this.#seen - this.#since < this.#hold ? null : this.#since
  }

  /** rad, where the joint rests (or was last seen to move from) */
  get place(): number {
    return this.#place
  }

  /** Forgets what it saw. */
  restart(): void {
    this.#place = Number.NaN
  }
}
