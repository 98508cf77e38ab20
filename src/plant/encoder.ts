/**
 * A joint's encoder through the truth of the simulation: sign, scale and zero that the rig's binding may get
 * wrong.
 *
 * Not modelled: errors within a turn, play in the gear, a battery that loses the turn count. The turns wrap
 * into int32.
 */
import type { SimulatedJoint } from '../files/rig.js'
import type { RandomStream } from '../random.js'
import { toRadians } from '../wire/cia402/scale.js'

export class Encoder {
  readonly #truth: SimulatedJoint
  readonly #noise: number
  readonly #random: RandomStream
  #held: number | null = null

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
    return Math.round(sign * angle * countsPerRadian + zero + noise) | 0
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
