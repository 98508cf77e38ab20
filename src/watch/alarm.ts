/**
 * Keeps a watch from repeating itself: a warning is given once a run for each place, a failure once until its
 * condition has been absent for a while (a value that dances on its limit is one finding, not hundreds).
 */
import type { Nanos } from '../clock.js'

/** 0: all is well, 1: inside the warning margin, 2: beyond the limit. */
export type Level = 0 | 1 | 2

const CLEAR: Nanos = 1e8

export class Alarm {
  readonly #warned: Uint8Array
  readonly #failing: Uint8Array
  readonly #lastBeyond: Float64Array

  /** @param places how many joints, arms or buses it is for */
  constructor(places: number) {
    this.#warned = new Uint8Array(places)
    this.#failing = new Uint8Array(places)
    this.#lastBeyond = new Float64Array(places)
  }

  /** Takes the present level of a place; true when it is to be told. */
  rises(place: number, level: Level, t: Nanos): boolean {
    if (level === 2) {
      this.#lastBeyond[place] = t
      if (this.#failing[place] === 1) return false
      this.#failing[place] = 1
      return true
    }
    if (this.#failing[place] === 1) {
      if (t - this.#lastBeyond[place]! < CLEAR) return false
      this.#failing[place] = 0
    }
    if (level === 0 || this.#warned[place] === 1) return false
    this.#warned[place] = 1
    return true
  }
}
