/**
 * The last second or so of every joint, one row a tick: what was asked, what was reported, and what was true where somebody saw it. Written
 * in place; only whoever asks for a series pays for it.
 */

/** Rows kept; a power of two. */
const ROWS = 256

export class FeedbackHistory {
  readonly #n: number
  /** [row x joint] rad */
  readonly #asked: Float64Array
  readonly #reported: Float64Array
  readonly #true: Float64Array
  #rows = 0
  /** Rows at the end in which every joint was seen by an eye, and was asked for something. */
  #seen = 0
  #led = 0

  constructor(joints: number) {
    this.#n = joints
    this.#asked = new Float64Array(ROWS * joints)
    this.#reported = new Float64Array(ROWS * joints)
    this.#true = new Float64Array(ROWS * joints)
  }

  /** @param asked @param reported [joint] rad, NaN: none yet @param seen [joint] rad, or null: nobody looks */
  put(
    asked: ArrayLike<number>,
    reported: ArrayLike<number>,
    seen: readonly number[] | null,
    led: boolean,
  ): void {
    const base = (this.#rows++ & (ROWS - 1)) * this.#n
    let whole = true
    let all = led
    for (let j = 0; j < this.#n; j++) {
      this.#asked[base + j] = asked[j]!
      this.#reported[base + j] = reported[j]!
      this.#true[base + j] = seen === null ? Number.NaN : seen[j]!
      if (Number.isNaN(reported[j]!)) whole = false
      if (Number.isNaN(asked[j]!)) all = false
    }
    this.#seen = whole && seen !== null ? Math.min(this.#seen + 1, ROWS) : 0
    this.#led = whole && all ? Math.min(this.#led + 1, ROWS) : 0
  }

  /** Rows at the end that tell of every joint what it truly was. */
  get witnessed(): number {
    return this.#seen
  }

  /** Rows at the end in which every joint was led by setpoints. */
  get led(): number {
    return this.#led
  }

  /** The last `rows` rows of one joint, oldest first. */
  series(what: 'asked' | 'reported' | 'true', j: number, rows: number): Float64Array {
    const from = what === 'asked' ? this.#asked : what === 'true' ? this.#true : this.#reported
    const out = new Float64Array(rows)
    for (let i = 0; i < rows; i++) out[i] = from[((this.#rows - rows + i) & (ROWS - 1)) * this.#n + j]!
    return out
  }
}
