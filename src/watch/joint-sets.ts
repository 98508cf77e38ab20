/**
 * Feedback of one arm's joints, one at a time, put together to sets that belong to one SYNC. Joints may be some SYNCs behind each
 * other for a whole run, as where answers come in just before and just after the next SYNC: several sets are collected at once.
 */

/** Sets that are collected at once: joints may be one less than this apart. Beyond that their feedback is old. */
const SETS = 4

export class JointSets {
  /** By joint of the arm: the last complete set. */
  readonly q: Float64Array
  /** Its SYNC index. */
  index = -1
  /** Complete sets so far. */
  count = 0
  /** SYNC index of the newest set for which a joint has told two positions: which of them is of that SYNC is not known. -1: none since somebody wrote that here */
  unsure = -1
  readonly #n: number
  /** By set and joint: what has come in, and whether it has. */
  readonly #value: Float64Array
  readonly #has: Uint8Array
  /** By set: its SYNC index, and how many joints it lacks. */
  readonly #of = new Int32Array(SETS).fill(-SETS)
  readonly #missing = new Int32Array(SETS)
  /** By joint: answers to SYNCs, doubled frames left out. */
  readonly #told: Float64Array

  /** @param n joints of the arm */
  constructor(n: number) {
    this.#n = n
    this.q = new Float64Array(n)
    this.#value = new Float64Array(SETS * n)
    this.#has = new Uint8Array(SETS * n)
    this.#told = new Float64Array(n)
  }

  /** Sets that there could have been: answers of the joint that gave fewest. */
  get possible(): number {
    return Math.min(...this.#told)
  }

  /**
   * @param place of the joint in the arm
   * @param index of the SYNC that it answers; below 0: there was none yet, and it belongs to no set
   * @returns true: with it `q` is a new complete set
   */
  put(place: number, index: number, value: number): boolean {
    if (index < 0) return false
    const n = this.#n
    const set = index & (SETS - 1)
    const first = set * n
    if (this.#of[set] !== index) {
      this.#of[set] = index
      this.#missing[set] = n
      this.#has.fill(0, first, first + n)
    }
    // Of a doubled frame the first one counts.
    if (this.#has[first + place] === 1) {
      if (this.#value[first + place] !== value) this.unsure = index
      return false
    }
    this.#has[first + place] = 1
    this.#told[place] = this.#told[place]! + 1
    this.#value[first + place] = value
    const missing = this.#missing[set]! - 1
    this.#missing[set] = missing
    if (missing > 0) return false
    for (let i = 0; i < n; i++) this.q[i] = this.#value[first + i]!
    this.index = index
    this.count++
    return true
  }
}
