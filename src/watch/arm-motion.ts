/**
 * How one arm moves, from its joints' feedback: once all of them have told of a SYNC, positions, speeds and accelerations half
 * a window earlier (motion/differentiator.ts), and the torques that the drives told then. When one
 * misses a SYNC, or says two things of one, the fits begin anew.
 */
import { Differentiator } from '../motion/differentiator.js'
import { JointSets } from './joint-sets.js'

export class ArmMotion {
  /** rad, rad/s, rad/s2, N m (NaN: not told); one a joint, from base to tip */
  readonly q: Float64Array
  readonly qd: Float64Array
  readonly qdd: Float64Array
  readonly torque: Float64Array
  readonly #fits: readonly Differentiator[]
  readonly #positions: JointSets
  readonly #torques: JointSets
  /** SYNC index of the set before. */
  #index = -2
  /** N m, by joint: those of the last half window, the oldest at `next` */
  readonly #told: Float64Array
  readonly #depth: number
  #next = 0

  /** @param n joints @param window samples, odd @param period s */
  constructor(n: number, window: number, period: number) {
    this.q = new Float64Array(n)
    this.qd = new Float64Array(n)
    this.qdd = new Float64Array(n)
    this.torque = new Float64Array(n)
    this.#fits = Array.from({ length: n }, () => new Differentiator(window, period))
    this.#positions = new JointSets(n)
    this.#torques = new JointSets(n)
    this.#depth = (window + 1) / 2
    this.#told = new Float64Array(n * this.#depth)
  }

  /** @param place of the joint in the arm @returns true: there is a new whole motion */
  see(place: number, index: number, position: number, torque: number): boolean {
    this.#torques.put(place, index, torque)
    if (!this.#positions.put(place, index, position)) return false
    const anew = index - this.#index !== 1 || this.#positions.unsure
    this.#index = index
    this.#positions.unsure = false
    for (let i = 0; i < this.q.length; i++) {
      const fit = this.#fits[i]!
      if (anew) fit.reset()
      fit.push(this.#positions.q[i]!)
      this.#told[i * this.#depth + this.#next] = this.#torques.q[i]!
    }
    this.#next = this.#next + 1 === this.#depth ? 0 : this.#next + 1
    return this.#take()
  }

  #take(): boolean {
    const n = this.q.length
    for (let i = 0; i < n; i++) {
      const fit = this.#fits[i]!
      if (!fit.ready) return false
      this.q[i] = fit.centre
      this.qd[i] = fit.speed
      this.qdd[i] = fit.acceleration
      this.torque[i] = this.#told[i * this.#depth + this.#next]!
    }
    return true
  }
}
