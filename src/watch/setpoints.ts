/**
 * The last setpoints of every joint by SYNC index, to pair feedback with what was asked for. The setpoint with index k
 * acts at SYNC k and, because the drive interpolates over one period (60C2h), is reached at SYNC k + 1: feedback sampled
 * at SYNC n is therefore compared with the setpoint of index n - 1. A cycle without a setpoint holds the one before.
 */
export class Setpoints {
  readonly #depth: number
  readonly #ring: Float64Array
  readonly #last: Int32Array
  readonly #first: Int32Array

  /** @param joints how many @param back how many SYNCs back can be asked for */
  constructor(joints: number, back: number) {
    this.#depth = 2 ** Math.ceil(Math.log2(back + 4))
    this.#ring = new Float64Array(joints * this.#depth)
    this.#last = new Int32Array(joints).fill(-1)
    this.#first = new Int32Array(joints)
  }

  /** @param position rad */
  put(joint: number, index: number, position: number): void {
    const mask = this.#depth - 1
    const base = joint * this.#depth
    const last = this.#last[joint]!
    if (last < 0) this.#first[joint] = index
    else if (index > last) {
      const held = this.#ring[base + (last & mask)]!
      // Beyond a full turn of the ring every place holds the same value anyway.
      for (let i = Math.max(last + 1, index - this.#depth); i < index; i++)
        this.#ring[base + (i & mask)] = held
    }
    this.#ring[base + (index & mask)] = position
    if (index > last) this.#last[joint] = index
  }

  /** Index of the newest setpoint; -1: none */
  last(joint: number): number {
    return this.#last[joint]!
  }

  /** Setpoint (rad) that feedback sampled at SYNC `n` is held against; NaN when none was sent that early. */
  paired(joint: number, n: number): number {
    return n > this.#first[joint]! ? this.at(joint, n - 1) : Number.NaN
  }

  /** Setpoint (rad) in force for `index`; before the oldest one kept, that one; NaN when there was none. */
  at(joint: number, index: number): number {
    const last = this.#last[joint]!
    if (last < 0) return Number.NaN
    const oldest = Math.max(this.#first[joint]!, last - this.#depth + 1)
    const i = Math.min(last, Math.max(oldest, index))
    return this.#ring[joint * this.#depth + (i & (this.#depth - 1))]!
  }

  /** The same at a fraction of a period, interpolated linearly. */
  between(joint: number, index: number): number {
    const i = Math.floor(index)
    const a = this.at(joint, i)
    return a + (index - i) * (this.at(joint, i + 1) - a)
  }
}
