/**
 * How far a joint is to one side of where it should be, by the direction from which it has come: the signature of play, and of friction that an
 * elastic drive train bears. An error e over positions q, speeds v and accelerations a is taken for
 *
 *     e = c0 + c1 q + c2 v + c3 a + (r/2) sign(v)
 *
 * by least squares: an offset, a load that changes with the place, a lag, a finite bandwidth; r, the reversal error, is what is left
 * between the two directions. (Play as a difference between the directions: ISO 230-2, "reversal value" of an axis, from memory.)
 * A joint that moves at one speed only cannot tell lag from play: then nothing is said. Allocation-free but for the constructor.
 */
import { factor, solve } from './cholesky.js'

/** Unknowns; the sign stands last, so that the last pivot is what the others leave of it. */
const N = 5
const SIGN = N - 1
/** How much the others may blow up the variance of the sign's factor. */
const MOST_INFLATION = 40

export class Hysteresis {
  /** Samples ahead and back. */
  ahead = 0
  back = 0
  /** Lower triangle of the normal equations, row by row. */
  readonly #normal = new Float64Array(N * N)
  readonly #right: readonly Float64Array[]
  readonly #row = new Float64Array(N)
  readonly #factor = new Float64Array(N * N)
  readonly #solution = new Float64Array(N)
  #origin = Number.NaN

  /** @param errors how many are looked at, over the same motion */
  constructor(errors: number) {
    this.#right = Array.from({ length: errors }, () => new Float64Array(N))
  }

  /** @param q rad @param v rad/s, not zero @param a rad/s2 @param errors rad, one each */
  see(q: number, v: number, a: number, errors: Float64Array): void {
    if (Number.isNaN(this.#origin)) this.#origin = q
    const row = this.#row
    row[0] = 1
    row[1] = q - this.#origin
    row[2] = v
    row[3] = a
    row[4] = Math.sign(v)
    if (v > 0) this.ahead++
    else this.back++
    const normal = this.#normal
    for (let i = 0; i < N; i++) {
      const x = row[i]!
      for (let k = 0; k <= i; k++) normal[i * N + k] = normal[i * N + k]! + x * row[k]!
      for (let e = 0; e < errors.length; e++) {
        const right = this.#right[e]!
        right[i] = right[i]! + x * errors[e]!
      }
    }
  }

  /** rad, with its sign: how much larger error number `which` is ahead than back; NaN where it cannot be told from lag. */
  reversal(which: number): number {
    const normal = this.#normal
    const scale = this.#solution
    // Columns of unit length: the pivots are shares then.
    for (let i = 0; i < N; i++) scale[i] = Math.sqrt(normal[i * N + i]!) || 1
    const factored = this.#factor
    for (let i = 0; i < N; i++) {
      for (let k = 0; k <= i; k++) factored[i * N + k] = normal[i * N + k]! / (scale[i]! * scale[k]!)
    }
    factor(factored, N)
    if (factored[SIGN * N + SIGN]! ** 2 * MOST_INFLATION < 1) return Number.NaN
    const last = scale[SIGN]!
    const right = this.#right[which]!
    for (let i = 0; i < N; i++) scale[i] = right[i]! / scale[i]!
    solve(factored, N, scale)
    return (2 * scale[SIGN]!) / last
  }
}
