/**
 * Which period a joint's feedback belongs to, frame by frame. Frames that were held up on their way come together, and by the time of
 * their arrival alone some periods would have two and others none. Where feedback has a counter it says how many there were
 * since the one before; without one the periods that passed must do.
 */

/** Frames in a row whose count is off the periods, as an arm's clock drifts or requests are lost, until it is given up. */
const PATIENCE = 20
/** Periods that a count may be off at all: frames that are held up for longer are as good as lost. */
const MOST = 8

export class Numbering {
  /** Period of the last frame, -1 before the first. */
  index = -1
  #count = Number.NaN
  /** Frames in a row. */
  #off = 0

  /**
   * @param now period that runs, 0 or more
   * @param passed periods since the frame before, by the time of arrival
   * @param count what the frame's counter says; NaN: it has none
   * @param modulus numbers that the counter has
   * @param most periods that a frame may be off the one that runs, either way, for good
   * @returns the period that the frame belongs to
   */
  next(now: number, passed: number, count: number, modulus: number, most: number): number {
    const before = this.#count
    this.#count = count
    if (this.index < 0) return this.#start(now)
    // After half of its round a counter no longer tells how often it went round.
    const counted = !Number.isNaN(count - before) && passed < modulus / 2
    const next = this.index + (counted ? nearest(count - before, modulus, passed) : passed)
    const off = Math.abs(next - now)
    this.#off = off > most ? this.#off + 1 : 0
    if (off > MOST || this.#off > (counted ? PATIENCE : 0)) return this.#start(now)
    this.index = next
    return next
  }

  #start(now: number): number {
    this.#off = 0
    this.index = now
    return now
  }
}

/** Of the steps that a counter of `modulus` numbers may have gone on by, those nearest to `passed`; never back. */
function nearest(steps: number, modulus: number, passed: number): number {
  return Math.max(0, steps + modulus * Math.round((passed - steps) / modulus))
}
