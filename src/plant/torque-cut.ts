/**
 * What joints do whose motors cannot give what an intended motion takes: each gives its most, and moves as that lets it; the
 * others keep to what they intend. Allocation-free.
 *
 * With tau = M a + b and some joints C at their most, M_CC d = most_C - tau_C is how much less (or more) these accelerate,
 * and M_iC d what the change costs or spares every other joint i. One that comes to its most thereby joins them; that ends, because none
 * leaves. This is the hybrid problem of R. Featherstone, "Rigid Body Dynamics Algorithms" (2008), sect. 9.2 (from memory).
 */
import { factor, solve } from '../motion/cholesky.js'

export class TorqueCut {
  readonly #n: number
  readonly #asked: Float64Array
  /** Of each joint: 1 or -1 at its most forwards or backwards, 0 below it. */
  readonly #at: Int8Array
  readonly #cut: Int32Array
  readonly #matrix: Float64Array
  readonly #change: Float64Array

  /** @param n joints */
  constructor(n: number) {
    this.#n = n
    this.#asked = new Float64Array(n)
    this.#at = new Int8Array(n)
    this.#cut = new Int32Array(n)
    this.#matrix = new Float64Array(n * n)
    this.#change = new Float64Array(n)
  }

  /**
   * @param mass kg m2, n x n, both triangles
   * @param most N m, n; Infinity: bears anything
   * @param torques N m, n: what the intended motion takes, and then what is given
   * @param out rad/s2, n: what the accelerations change by
   */
  solve(mass: Float64Array, most: Float64Array, torques: Float64Array, out: Float64Array): void {
    const n = this.#n
    const asked = this.#asked
    const at = this.#at
    asked.set(torques)
    at.fill(0)
    out.fill(0)
    while (this.#grow(most, torques)) {
      const cut = this.#cut
      let m = 0
      for (let i = 0; i < n; i++) if (at[i] !== 0) cut[m++] = i
      const change = this.#change
      for (let r = 0; r < m; r++) {
        const i = cut[r]!
        for (let c = 0; c < m; c++) this.#matrix[r * m + c] = mass[i * n + cut[c]!]!
        change[r] = at[i]! * most[i]! - asked[i]!
      }
      factor(this.#matrix, m)
      solve(this.#matrix, m, change)
      torques.set(asked)
      for (let c = 0; c < m; c++) {
        const j = cut[c]!
        out[j] = change[c]!
        for (let i = 0; i < n; i++) torques[i]! += mass[i * n + j]! * change[c]!
      }
    }
  }

  /** Whether another joint has come to its most. */
  #grow(most: Float64Array, torques: Float64Array): boolean {
    let grown = false
    for (let i = 0; i < this.#n; i++) {
      if (this.#at[i] !== 0 || Math.abs(torques[i]!) <= most[i]!) continue
      this.#at[i] = torques[i]! > 0 ? 1 : -1
      grown = true
    }
    return grown
  }
}
