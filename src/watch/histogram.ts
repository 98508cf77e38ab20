/**
 * Quantiles of hours of samples in fixed memory: a histogram whose bins are log-linear. Each octave (factor of two) is
 * cut into 128 equal bins, so a bin is at most 1/128 of its value wide and its middle is at most 0.4 % (1/256) from any
 * sample in it. The bin is read from the bits of the double (IEEE 754): exact, so the same on every machine.
 */

/** Bins an octave = 2^STEPS. */
const STEPS = 7
/** 2^LOWEST is the lower edge of the first bin: 6e-8 (rad, s, m: all far below what matters here). */
const LOWEST = -24
/** 2^HIGHEST is the upper edge of the last bin: 1024. */
const HIGHEST = 10
const BINS = (HIGHEST - LOWEST) << STEPS
/** High word of a double: 11 bits of exponent (bias 1023) over 20 bits of mantissa. */
const SHIFT = 20 - STEPS
const FIRST = (1023 + LOWEST) << STEPS

const double = new Float64Array(1)
const words = new Uint32Array(double.buffer)
const HIGH_WORD = new Uint8Array(new Uint16Array([1]).buffer)[0] === 1 ? 1 : 0

/** Largest relative distance of a quantile from the sample that it stands for. */
export const HISTOGRAM_RESOLUTION = 2 ** -(STEPS + 1)

export class Histogram {
  readonly #counts = new Uint32Array(BINS)
  #count = 0
  #sumOfSquares = 0
  #max = 0
  #min = Number.POSITIVE_INFINITY

  /** @param value not negative; NaN is not counted */
  add(value: number): void {
    if (!(value >= 0)) return
    this.#count++
    this.#sumOfSquares += value * value
    if (value > this.#max) this.#max = value
    if (value < this.#min) this.#min = value
    double[0] = value
    const bin = (words[HIGH_WORD]! >>> SHIFT) - FIRST
    const held = bin < 0 ? 0 : bin >= BINS ? BINS - 1 : bin
    this.#counts[held] = this.#counts[held]! + 1
  }

  get count(): number {
    return this.#count
  }

  /** Greatest sample, exact; 0 without samples. */
  get max(): number {
    return this.#max
  }

  /** Root mean square, exact; 0 without samples. */
  get rms(): number {
    return this.#count === 0 ? 0 : Math.sqrt(this.#sumOfSquares / this.#count)
  }

  /**
   * The smallest sample that at least the share `q` of all samples do not exceed (nearest-rank definition), within
   * HISTOGRAM_RESOLUTION; 0 without samples.
   * @param q 0..1
   */
  quantile(q: number): number {
    if (this.#count === 0) return 0
    const rank = Math.max(1, Math.ceil(q * this.#count))
    let below = 0
    for (let bin = 0; bin < BINS; bin++) {
      below += this.#counts[bin]!
      if (below >= rank) return Math.min(this.#max, Math.max(this.#min, middleOf(bin)))
    }
    return this.#max
  }
}

function middleOf(bin: number): number {
  if (bin === 0) return 0 // holds everything below its upper edge
  const octave = 2 ** (LOWEST + (bin >> STEPS))
  return octave * (1 + ((bin & ((1 << STEPS) - 1)) + 0.5) / (1 << STEPS))
}
