/**
 * The way that a craft comes to under pulls that depend on that way: surge, sway and yaw rate at which nothing changes any more.
 *
 * Implicit Euler steps that grow as the craft comes to rest against its pulls: first it goes where it would truly go, at the end the
 * steps are Newton's. Source: C. T. Kelley, D. E. Keyes, "Convergence analysis of pseudo-transient continuation", SIAM J. Numer. Anal.
 * 35(2):508-523 (1998); the growth is their "switched evolution relaxation". Derivatives are differences.
 */
import type { CraftMotion } from './craft-motion.js'

const N = 3
/** m, at the fastest way: of the first step, where nobody knows better. What comes to its way slowly, as all does that is slow, takes longer steps. */
const FIRST = 5
/** Times by which a step may grow. */
const GROWTH = 20
const MOST_STEPS = 80
/** 1/m: changes of this share of the fastest speed, in the time that it takes for a metre, are none. */
const NONE = 1e-7
/** Steps for differences, m/s and rad/s for each m/s of the fastest way. */
const FINE = 1e-6

export class SteadyWay {
  readonly #craft: CraftMotion
  readonly #arm: number
  readonly #change = new Float64Array(N)
  readonly #near = new Float64Array(N)
  readonly #step = new Float64Array(N)
  readonly #matrix = new Float64Array(N * N)

  /** @param arm m: makes yaw rates and speeds comparable, half the distance of the blades */
  constructor(craft: CraftMotion, arm: number) {
    this.#craft = craft
    this.#arm = arm
  }

  /**
   * Leaves the way in the craft's state, where its first guess is taken from.
   * @param pull has the craft pulled (`CraftMotion.pull`) as it would be under way as its state is
   * @param fastest m/s, of any blade, more than zero: what is small beside it is nothing
   * @returns is there one? If not the state is anything.
   */
  settle(pull: (craft: CraftMotion) => void, fastest: number): boolean {
    const { state } = this.#craft
    const step = this.#step
    this.#changes(pull, this.#change)
    let size = this.#size()
    let time = FIRST / fastest
    for (let k = 0; k < MOST_STEPS; k++) {
      if (size <= NONE * fastest * fastest) return true
      this.#linear(pull, fastest, time)
      if (!solved(this.#matrix, step)) return false
      for (let i = 0; i < N; i++) state[3 + i]! += step[i]!
      this.#changes(pull, this.#change)
      const before = size
      size = this.#size()
      if (!Number.isFinite(size)) return false
      time *= Math.min(GROWTH, before / size)
    }
    return false
  }

  /** The matrix of one step, I / time - J, and the changes beside it. */
  #linear(pull: (craft: CraftMotion) => void, fastest: number, time: number): void {
    const { state } = this.#craft
    const fine = FINE * fastest
    for (let j = 0; j < N; j++) {
      const here = state[3 + j]!
      state[3 + j] = here + fine
      this.#changes(pull, this.#near)
      state[3 + j] = here
      for (let i = 0; i < N; i++)
        this.#matrix[i * N + j] = (i === j ? 1 / time : 0) - (this.#near[i]! - this.#change[i]!) / fine
    }
    this.#step.set(this.#change)
  }

  #changes(pull: (craft: CraftMotion) => void, out: Float64Array): void {
    pull(this.#craft)
    this.#craft.changes(out)
  }

  #size(): number {
    const [u, v, r] = this.#change
    return Math.hypot(u!, v!, this.#arm * r!)
  }
}

/** Gauss with pivots, in place: `b` becomes the solution. @returns is there one? */
function solved(a: Float64Array, b: Float64Array): boolean {
  for (let k = 0; k < N; k++) {
    let pivot = k
    for (let i = k + 1; i < N; i++) if (Math.abs(a[i * N + k]!) > Math.abs(a[pivot * N + k]!)) pivot = i
    if (a[pivot * N + k] === 0) return false
    for (let j = 0; j < N; j++) {
      const held = a[k * N + j]!
      a[k * N + j] = a[pivot * N + j]!
      a[pivot * N + j] = held
    }
    const held = b[k]!
    b[k] = b[pivot]!
    b[pivot] = held
    for (let i = k + 1; i < N; i++) {
      const share = a[i * N + k]! / a[k * N + k]!
      for (let j = k; j < N; j++) a[i * N + j]! -= share * a[k * N + j]!
      b[i]! -= share * b[k]!
    }
  }
  for (let k = N - 1; k >= 0; k--) {
    for (let j = k + 1; j < N; j++) b[k]! -= a[k * N + j]! * b[j]!
    b[k]! /= a[k * N + k]!
  }
  return true
}
