/**
 * How one arm moves, from its joints' feedback: once all of them have told of a SYNC, positions, speeds and accelerations half
 * a window earlier (motion/differentiator.ts), and the torques that the drives told then. The fits take samples one period apart:
 * when a joint misses a SYNC, or says two things of one, or a SYNC came at another time, they begin anew.
 */
import { Differentiator } from '../motion/differentiator.js'
import { JointSets } from './joint-sets.js'

/**
 * Shares of what a drive may give between which it gives all: torques are told in steps, and swing over a little (common practice, no
 * source). A drive that tells more than it may give says something else: that it is allowed more, or has another scale.
 */
const AT_LIMIT = [0.99, 1.05] as const
/** Before the first SYNC, and no set goes on from it. */
const NONE = -2

export class ArmMotion {
  /** rad, rad/s, rad/s2, N m (NaN: not told); one a joint, from base to tip */
  readonly q: Float64Array
  readonly qd: Float64Array
  readonly qdd: Float64Array
  readonly torque: Float64Array
  /** Times that the fits began anew: what moved meanwhile was not seen whole. */
  restarts = 0
  readonly #fits: readonly Differentiator[]
  readonly #positions: JointSets
  readonly #torques: JointSets
  /** SYNC index of the set before. */
  #index = NONE
  /** N m, by joint: those of the last half window, the oldest at `next` */
  readonly #told: Float64Array
  readonly #depth: number
  #next = 0
  /** N m, by joint: what its drive may give */
  readonly #most: Float64Array
  readonly #window: number
  /** SYNC index from which on sets count. */
  #from = 0
  /** Whole sets since one in which a drive gave all that it may. */
  #sinceLimit = Number.POSITIVE_INFINITY

  /**
   * @param n joints @param window samples, odd @param period s
   * @param most N m that each drive may give, from base to tip; left out: nobody asks for `atLimit`
   */
  constructor(
    n: number,
    window: number,
    period: number,
    most: Float64Array = new Float64Array(n).fill(Number.POSITIVE_INFINITY),
  ) {
    this.#window = window
    this.#most = most
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
    if (!this.#positions.put(place, index, position) || index < this.#from) return false
    const { unsure } = this.#positions
    this.#positions.unsure = -1
    const anew = index - this.#index !== 1 || unsure >= 0
    if (anew) this.restarts++
    // Of two answers to one SYNC the first may be of the one before: from such a set nothing goes on either.
    this.#index = unsure === index ? NONE : index
    this.#sinceLimit = this.#givesAll() ? 0 : this.#sinceLimit + 1
    for (let i = 0; i < this.q.length; i++) {
      const fit = this.#fits[i]!
      if (anew) fit.reset()
      fit.push(this.#positions.q[i]!)
      this.#told[i * this.#depth + this.#next] = this.#torques.q[i]!
    }
    this.#next = this.#next + 1 === this.#depth ? 0 : this.#next + 1
    return this.#take()
  }

  /** The SYNC of this index came at another time than one period after the one before. */
  uneven(index: number): void {
    this.#from = index
    this.#index = NONE
  }

  /**
   * Of the samples that the last motion was made of, is there one in which a drive of the arm gave all that it may? Then the joint goes as
   * its motor lets it, and shakes the others: what is that sudden the fits round off.
   */
  get atLimit(): boolean {
    return this.#sinceLimit < this.#window
  }

  #givesAll(): boolean {
    const torques = this.#torques.q
    for (let i = 0; i < torques.length; i++) {
      const share = Math.abs(torques[i]!) / this.#most[i]!
      if (share >= AT_LIMIT[0] && share <= AT_LIMIT[1]) return true
    }
    return false
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
