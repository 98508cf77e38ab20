/**
 * Power spectral density of a signal that goes on for ever, in fixed memory: the mean of the periodograms of segments that overlap by half,
 * each freed of its mean and weighted by a Hann window.
 *
 * Source: P. D. Welch, "The use of fast Fourier transform for the estimation of power spectra", IEEE Trans. Audio Electroacoust. 15(2), 1967.
 * Conventions (periodic window, mean taken off, one-sided density) are those of scipy.signal.welch as it comes, which the tests hold
 * it against.
 */
import { RealFft } from './fft.js'

export class Welch {
  /** Segments so far. */
  segments = 0
  /** unit^2/Hz at each frequency from 0 to half the rate: the periodogram of the last segment */
  readonly latest: Float64Array
  /** Hz, distance of the frequencies */
  readonly step: number
  readonly #fft: RealFft
  readonly #window: Float64Array
  readonly #x: Float64Array
  readonly #weighted: Float64Array
  readonly #sum: Float64Array
  readonly #scale: number
  /** Samples in `#x`. */
  #held = 0

  /** @param samples of a segment, a power of two from 4 on; @param rate Hz */
  constructor(samples: number, rate: number) {
    this.step = rate / samples
    this.#fft = new RealFft(samples)
    this.#window = Float64Array.from(
      { length: samples },
      (_, n) => 0.5 - 0.5 * Math.cos((2 * Math.PI * n) / samples),
    )
    this.#x = new Float64Array(samples)
    this.#weighted = new Float64Array(samples)
    this.latest = new Float64Array(samples / 2 + 1)
    this.#sum = new Float64Array(samples / 2 + 1)
    this.#scale = 1 / (rate * this.#window.reduce((sum, w) => sum + w * w, 0))
  }

  /** The next sample. @returns true: it ends a segment */
  push(x: number): boolean {
    this.#x[this.#held++] = x
    if (this.#held < this.#x.length) return false
    this.#take()
    this.#held = this.#x.length / 2
    this.#x.copyWithin(0, this.#held)
    return true
  }

  /** The sample that follows belongs to another stretch: a segment under way is given up. */
  breaks(): void {
    this.#held = 0
  }

  /** Density at each frequency from 0 to half the rate, unit^2/Hz; zeros without a segment. A new array. */
  density(): Float64Array {
    const n = Math.max(1, this.segments)
    return this.#sum.map((sum) => sum / n)
  }

  #take(): void {
    const { re, im } = this.#fft
    const x = this.#x
    let mean = 0
    for (let n = 0; n < x.length; n++) mean += x[n]!
    mean /= x.length
    for (let n = 0; n < x.length; n++) this.#weighted[n] = (x[n]! - mean) * this.#window[n]!
    this.#fft.transform(this.#weighted)
    this.segments++
    const last = re.length - 1
    for (let k = 0; k <= last; k++) {
      // Neither 0 nor half the rate has a twin at a negative frequency.
      const sides = k === 0 || k === last ? 1 : 2
      const power = sides * this.#scale * (re[k]! ** 2 + im[k]! ** 2)
      this.latest[k] = power
      this.#sum[k] = this.#sum[k]! + power
    }
  }
}
