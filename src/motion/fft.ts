/**
 * Fourier transform of real samples whose number is a power of two, without allocation: X[k] = sum x[n] exp(-2 pi i k n / N), k = 0..N/2.
 *
 * Even and odd samples make one complex sequence of half the length (radix 2, decimation in time), which the symmetry of real
 * sequences takes apart again. Source: J. W. Cooley, J. W. Tukey, "An algorithm for the machine calculation of complex Fourier
 * series", Math. Comp. 19 (1965); the split from memory. Own code, because the small packages for this are no longer kept.
 */
import { DrystrokeError } from '../errors.js'

export class RealFft {
  /** Samples of one transform. */
  readonly samples: number
  /** Of the last transform: real and imaginary part of each of the samples / 2 + 1 frequencies from 0 on. */
  readonly re: Float64Array
  readonly im: Float64Array
  /** cos and sin of 2 pi k / samples */
  readonly #cos: Float64Array
  readonly #sin: Float64Array
  readonly #reversed: Uint32Array
  readonly #a: Float64Array
  readonly #b: Float64Array

  /** @throws DrystrokeError `defect` for a number of samples that is no power of two from 4 on */
  constructor(samples: number) {
    if (!(samples >= 4) || !Number.isInteger(Math.log2(samples)))
      throw new DrystrokeError(
        'defect',
        `a transform of ${samples} samples; expected a power of two, 4 or more`,
      )
    const half = samples / 2
    this.samples = samples
    this.re = new Float64Array(half + 1)
    this.im = new Float64Array(half + 1)
    this.#cos = Float64Array.from({ length: half }, (_, k) => Math.cos((2 * Math.PI * k) / samples))
    this.#sin = Float64Array.from({ length: half }, (_, k) => Math.sin((2 * Math.PI * k) / samples))
    this.#reversed = new Uint32Array(half)
    for (let i = 1; i < half; i++)
      this.#reversed[i] = (this.#reversed[i >> 1]! >> 1) | (i & 1 ? half >> 1 : 0)
    this.#a = new Float64Array(half)
    this.#b = new Float64Array(half)
  }

  /** @param x the samples; those beyond its end are zero */
  transform(x: Float64Array): void {
    const half = this.samples / 2
    const a = this.#a
    const b = this.#b
    for (let i = 0; i < half; i++) {
      const from = 2 * this.#reversed[i]!
      a[i] = from < x.length ? x[from]! : 0
      b[i] = from + 1 < x.length ? x[from + 1]! : 0
    }
    for (let size = 2; size <= half; size *= 2) this.#butterflies(size)
    this.#split()
  }

  #butterflies(size: number): void {
    const [a, b, cos, sin] = [this.#a, this.#b, this.#cos, this.#sin]
    const step = this.samples / size
    for (let start = 0; start < a.length; start += size) {
      for (let i = start, j = start + size / 2, k = 0; k < this.samples / 2; i++, j++, k += step) {
        const re = a[j]! * cos[k]! + b[j]! * sin[k]!
        const im = b[j]! * cos[k]! - a[j]! * sin[k]!
        a[j] = a[i]! - re
        b[j] = b[i]! - im
        a[i] = a[i]! + re
        b[i] = b[i]! + im
      }
    }
  }

  /** X[k] = E[k] + exp(-2 pi i k / N) O[k], with E and O from Z[k] and the conjugate of Z[N/2 - k]. */
  #split(): void {
    const { re, im } = this
    const a = this.#a
    const b = this.#b
    const half = a.length
    re[0] = a[0]! + b[0]!
    re[half] = a[0]! - b[0]!
    im[0] = im[half] = 0
    for (let k = 1; k < half; k++) {
      const m = half - k
      const evenRe = (a[k]! + a[m]!) / 2
      const evenIm = (b[k]! - b[m]!) / 2
      const oddRe = (b[k]! + b[m]!) / 2
      const oddIm = (a[m]! - a[k]!) / 2
      re[k] = evenRe + this.#cos[k]! * oddRe + this.#sin[k]! * oddIm
      im[k] = evenIm + this.#cos[k]! * oddIm - this.#sin[k]! * oddRe
    }
  }
}
