/**
 * How one arm moves, from its joints' feedback: once all of them have told of a SYNC, positions, speeds and accelerations half
 * a window earlier (motion/differentiator.ts), and the torques that the drives told then. A joint that misses a SYNC begins its fit anew.
 */
import { Differentiator } from '../motion/differentiator.js'

export class ArmMotion {
  /** rad, rad/s, rad/s2, N m (NaN: not told); one a joint, from base to tip */
  readonly q: Float64Array
  readonly qd: Float64Array
  readonly qdd: Float64Array
  readonly torque: Float64Array
  readonly #fits: readonly Differentiator[]
  /** SYNC index of each joint's last feedback. */
  readonly #index: Int32Array
  /** N m, by joint: those of the last half window, the oldest at `next` */
  readonly #told: Float64Array
  readonly #depth: number
  readonly #next: Int32Array
  #collecting = -1
  #missing = 0

  /** @param n joints @param window samples, odd @param period s */
  constructor(n: number, window: number, period: number) {
    this.q = new Float64Array(n)
    this.qd = new Float64Array(n)
    this.qdd = new Float64Array(n)
    this.torque = new Float64Array(n)
    this.#fits = Array.from({ length: n }, () => new Differentiator(window, period))
    this.#index = new Int32Array(n).fill(-2)
    this.#depth = (window + 1) / 2
    this.#told = new Float64Array(n * this.#depth)
    this.#next = new Int32Array(n)
  }

  /** @param place of the joint in the arm @returns true: there is a new whole motion */
  see(place: number, index: number, position: number, torque: number): boolean {
    const gap = index - this.#index[place]!
    // Of a doubled frame the first one counts.
    if (gap === 0) return false
    this.#index[place] = index
    const fit = this.#fits[place]!
    if (gap !== 1) fit.reset()
    fit.push(position)
    const depth = this.#depth
    const next = this.#next[place]!
    this.#told[place * depth + next] = torque
    this.#next[place] = next + 1 === depth ? 0 : next + 1
    if (this.#collecting !== index) {
      this.#collecting = index
      this.#missing = this.q.length
    }
    this.#missing--
    return this.#missing === 0 && this.#take()
  }

  #take(): boolean {
    const n = this.q.length
    for (let i = 0; i < n; i++) {
      const fit = this.#fits[i]!
      if (!fit.ready) return false
      this.q[i] = fit.centre
      this.qd[i] = fit.speed
      this.qdd[i] = fit.acceleration
      this.torque[i] = this.#told[i * this.#depth + this.#next[i]!]!
    }
    return true
  }
}
