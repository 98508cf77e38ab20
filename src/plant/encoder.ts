/**
 * A joint's encoder through the truth of the simulation: sign, scale and zero that the rig's binding may get
 * wrong.
 *
 * Not modelled: errors within a turn, a battery that loses the turn count. The turns wrap into int32.
 */
import type { SimulatedJoint } from '../files/rig.js'
import type { RandomStream } from '../random.js'
import { toRadians } from '../wire/cia402/scale.js'

export class Encoder {
  readonly #truth: SimulatedJoint
  readonly #noise: number
  readonly #random: RandomStream
  #held: number | null = null
  #spoilt: ((counts: number) => number) | null = null
  #beside = 0

  /** @param noise counts, standard deviation */
  constructor(truth: SimulatedJoint, noise: number, random: RandomStream) {
    this.#truth = truth
    this.#noise = noise
    this.#random = random
  }

  /** counts, signed 32 bits; @param angle rad */
  read(angle: number): number {
    if (this.#held !== null) return this.#held
    const { sign, countsPerRadian, zero } = this.#truth
    const noise = this.#noise === 0 ? 0 : this.#noise * this.#random.normal()
    const counts = Math.round(sign * angle * countsPerRadian + zero + noise + this.#beside) | 0
    return this.#spoilt === null ? counts : this.#spoilt(counts)
  }

  /** What `read` gives while another encoder, which stands `angle` (rad) beside this one, is asked. */
  beside<T>(angle: number, read: () => T): T {
    this.#beside = this.#truth.sign * angle * this.#truth.countsPerRadian
    try {
      return read()
    } finally {
      this.#beside = 0
    }
  }

  /** rad that so many counts are worth, and the other way round. */
  get countsPerRadian(): number {
    return this.#truth.countsPerRadian
  }

  get sign(): 1 | -1 {
    return this.#truth.sign
  }

  /** From now on what is read is turned into something else (counts to counts); null: no more. */
  spoil(how: ((counts: number) => number) | null): void {
    this.#spoilt = how
  }

  /** rad that a target (counts) means to the drive */
  angle(counts: number): number {
    return toRadians(this.#truth, counts)
  }

  /** From now on repeats what it reads at `angle`, or, with null, reads again. */
  freeze(angle: number | null): void {
    this.#held = null
    if (angle !== null) this.#held = this.read(angle)
  }
}
