/**
 * Figures of a measured move from rest to rest: rise from 10 to 90 % of the way, overshoot, settling into 2 % (the usual definitions of
 * control engineering), for a step of the reference or for any other way on which it gets there.
 *
 * Settling counts from where the reference arrives: for a step that is the step. Rise is told for the reference as well; on a
 * slow reference both are about the same, and only what is more is the joint's. Crossings are interpolated between samples.
 * Memory is bounded: a move that takes longer than there is room for is not measured.
 */

/** Share of the way within which the move is over. */
const SETTLED = 0.02
const LOW = 0.1
const HIGH = 0.9
/** How much longer than the way itself the reference's path may be: beyond that it goes to and fro, and is no step. */
const STRAIGHT = 1.02

/** What was measured of one move; times in samples. */
export interface StepFigures {
  /** With its sign, from rest to rest */
  height: number
  rise: number
  /** Of the reference */
  askedRise: number
  /** Share of the way */
  overshoot: number
  /** Since the reference arrived; NaN: it had not settled after all that was looked at */
  settling: number
  /** Since the reference arrived: until the next move began, or the look was over */
  looked: number
}

export class StepResponse {
  /** The last move that was measured. */
  readonly last: StepFigures = { height: 0, rise: 0, askedRise: 0, overshoot: 0, settling: 0, looked: 0 }
  readonly #reference: Float64Array
  readonly #measured: Float64Array
  readonly #rest: number
  readonly #look: number
  #count = 0
  /** Samples for which the reference has rested; and those of the move: of its path, and its end. */
  #resting = 0
  #moving = false
  #path = 0
  #arrived = 0
  /** Where the reference came to rest. */
  #end = 0

  /**
   * @param room samples that a move may take, look included
   * @param rest samples without motion of the reference that count as rest
   * @param look samples after its arrival for which the move is looked at
   */
  constructor(room: number, rest: number, look: number) {
    this.#reference = new Float64Array(room)
    this.#measured = new Float64Array(room)
    this.#rest = rest
    this.#look = look
  }

  /** Nothing is known of where the reference was. */
  anew(): void {
    this.#count = 0
    this.#resting = 0
    this.#moving = false
  }

  /** One sample of both. @returns true: a move is over, and `last` tells of it */
  see(reference: number, measured: number): boolean {
    const before = this.#count === 0 ? reference : this.#reference[this.#count - 1]!
    const still = reference === before
    if (!this.#moving) {
      if (still || this.#resting < this.#rest) {
        // Of rest the last sample is enough: the way begins there.
        this.#resting = still ? this.#resting + 1 : 0
        this.#count = 1
        this.#reference[0] = reference
        this.#measured[0] = measured
        return false
      }
      this.#moving = true
      this.#path = 0
      this.#resting = 0
    }
    const over = this.#resting >= this.#rest && (!still || this.#resting >= this.#look)
    if (over) {
      const told = this.#conclude()
      this.anew()
      this.#resting = still ? this.#rest : 0
      // The next move begins from here.
      this.#push(this.#end, measured)
      if (!still) {
        this.#moving = true
        this.#path = Math.abs(reference - this.#end)
        this.#arrived = this.#count
        this.#push(reference, measured)
      }
      return told
    }
    if (this.#count === this.#reference.length) {
      this.anew()
      return false
    }
    if (still) this.#resting++
    else {
      this.#resting = 0
      this.#path += Math.abs(reference - before)
      this.#arrived = this.#count
    }
    this.#push(reference, measured)
    return false
  }

  #push(reference: number, measured: number): void {
    this.#reference[this.#count] = reference
    this.#measured[this.#count] = measured
    this.#count++
  }

  #conclude(): boolean {
    const n = this.#count
    const from = this.#reference[0]!
    this.#end = this.#reference[n - 1]!
    const height = this.#end - from
    if (height === 0 || this.#path > STRAIGHT * Math.abs(height)) return false
    const share = (x: number): number => (x - from) / height
    let most = 0
    let outside = -1
    for (let i = 0; i < n; i++) {
      const y = share(this.#measured[i]!) - 1
      if (y > most) most = y
      if (Math.abs(y) > SETTLED) outside = i
    }
    const { last } = this
    last.height = height
    last.overshoot = most
    last.rise = this.#crosses(this.#measured, HIGH, share) - this.#crosses(this.#measured, LOW, share)
    last.askedRise = this.#crosses(this.#reference, HIGH, share) - this.#crosses(this.#reference, LOW, share)
    last.looked = n - 1 - this.#arrived
    last.settling = outside === n - 1 ? Number.NaN : Math.max(0, outside + 1 - this.#arrived)
    return true
  }

  /** Samples until a level is first reached; NaN: never. */
  #crosses(of: Float64Array, level: number, share: (x: number) => number): number {
    for (let i = 1; i < this.#count; i++) {
      const [a, b] = [share(of[i - 1]!), share(of[i]!)]
      if (a < level && b >= level) return i - 1 + (level - a) / (b - a)
    }
    return Number.NaN
  }
}
