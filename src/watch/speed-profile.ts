/**
 * Cuts a speed that goes on and on into movements, each from one reversal to the next, and keeps the profile of the one under way.
 *
 * A movement begins with the first speed that is more than noise, and ends when the speed has turned round, or with a rest that is longer than
 * `REST`; a shorter rest is part of it, because a movement that stops on its way is the roughest of all.
 */

/** s of rest that end a movement. */
const REST = 0.6

export class SpeedProfile {
  /** The movement under way, or, when `push` says so, the one that has ended; zeros beyond it. */
  readonly speeds: Float64Array
  /** Samples of it. */
  n = 0
  /** Its greatest speed. */
  peak = 0
  /** It is longer than there is room. */
  tooLong = false
  readonly #still: number
  readonly #stride: number
  readonly #rest: number
  /** 1 or -1: which way the movement goes; 0: none is under way */
  #way = 0
  /** Samples up to the last one that was no rest, and those of rest since. */
  #live = 0
  #resting = 0
  /** Samples of the input in this movement. */
  taken = 0

  /**
   * @param most samples of a profile; @param stride samples of the input for each of a profile
   * @param rate Hz, of the profile; @param still speed below which there is none
   */
  constructor(most: number, stride: number, rate: number, still: number) {
    this.speeds = new Float64Array(most)
    this.#stride = stride
    this.#rest = Math.round(REST * rate)
    this.#still = still
  }

  /** What is under way is no whole movement. */
  breaks(): void {
    this.#way = 0
  }

  /** @param along speed by whose sign movements are cut; @param size speed of the profile @returns true: a movement has ended */
  push(along: number, size: number): boolean {
    const way = along >= this.#still ? 1 : along <= -this.#still ? -1 : 0
    if (this.#way === 0) {
      if (way === 0) return false
      this.#begin(way)
    } else if (way === -this.#way || this.#resting > this.#rest) return this.#end()
    if (this.taken++ % this.#stride !== 0) return false
    this.#resting = way === 0 ? this.#resting + 1 : 0
    if (this.n === this.speeds.length) {
      this.tooLong = true
      return false
    }
    this.speeds[this.n++] = size
    if (way !== 0) this.#live = this.n
    if (size > this.peak) this.peak = size
    return false
  }

  #begin(way: number): void {
    this.speeds.fill(0, 0, this.n)
    this.n = this.#live = this.#resting = this.taken = this.peak = 0
    this.tooLong = false
    this.#way = way
  }

  #end(): boolean {
    this.speeds.fill(0, this.#live, this.n)
    this.n = this.#live
    this.#way = 0
    return true
  }
}
