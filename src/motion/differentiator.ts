/**
 * Speed and acceleration from position samples taken at a fixed period: a least-squares parabola over a window,
 * differentiated at the window's centre.
 *
 * Source: A. Savitzky and M. Golay, "Smoothing and differentiation of data by simplified least squares procedures",
 * Analytical Chemistry 36(8):1627-1639 (1964). With i = -m..m, S2 = sum i^2, S4 = sum i^4, n = 2m + 1:
 * speed = sum i x / (T S2), acceleration = 2 sum (i^2 - S2/n) x / (T^2 (S4 - S2^2/n)).
 */
import { DrystrokeError } from '../errors.js'

/** s between the newest sample and the moment that speed and acceleration are for: (n - 1)/2 periods. */
export function delay(window: number, period: number): number {
  return ((window - 1) / 2) * period
}

/** 1/s: standard deviation of the speed, per standard deviation of white noise on the position. */
export function speedNoiseGain(window: number, period: number): number {
  return 1 / (period * Math.sqrt(sumOfSquares(window)))
}

/** 1/s: what the fit's speed takes of each sample of its window, the oldest first. */
export function speedWeights(window: number, period: number): Float64Array {
  const scale = period * sumOfSquares(window)
  return Float64Array.from({ length: window }, (_, j) => (j - (window - 1) / 2) / scale)
}

/** 1/s2: standard deviation of the acceleration, per standard deviation of white noise on the position. */
export function accelerationNoiseGain(window: number, period: number): number {
  return 2 / (period * period * Math.sqrt(spread(window)))
}

/**
 * Of a swing to and fro, `turn` rad of it in one period: the acceleration that the fit says over the true one. It falls from 1 as swings grow
 * faster: the response of the coefficients above to cos(turn i), over -turn^2.
 */
export function accelerationGain(window: number, turn: number): number {
  const mean = sumOfSquares(window) / window
  let sum = 0
  for (let i = 1; i <= (window - 1) / 2; i++) sum += (i * i - mean) * (Math.cos(turn * i) - 1)
  return (-4 * sum) / (spread(window) * turn * turn)
}

/** Hz: up to here the fit keeps at least `share` (0..1) of every acceleration. By bisection, within the first fall of the gain. */
export function keepsUpTo(window: number, period: number, share: number): number {
  let low = 0
  let high = Math.PI / ((window - 1) / 2)
  for (let k = 0; k < 50; k++) {
    const turn = (low + high) / 2
    if (accelerationGain(window, turn) >= share) low = turn
    else high = turn
  }
  return low / (2 * Math.PI * period)
}

function sumOfSquares(n: number): number {
  return (n * (n * n - 1)) / 12
}

/** S4 - S2^2/n, in closed form: n (n^2 - 1)(n^2 - 4)/180. */
function spread(n: number): number {
  return (n * (n * n - 1) * (n * n - 4)) / 180
}

/** One signal of any one unit, sample by sample. */
export class Differentiator {
  /** The window is full. */
  ready = false
  /** 1/s, `delay` ago; NaN until ready */
  speed = Number.NaN
  /** 1/s2, `delay` ago; NaN until ready */
  acceleration = Number.NaN
  // Each sample is kept twice, n apart, so that the window is always one contiguous run.
  readonly #samples: Float64Array
  readonly #first: Float64Array
  readonly #second: Float64Array
  readonly #n: number
  #next = 0
  #filled = 0

  /**
   * @param window samples, odd, 3 or more; @param period s between samples
   * @throws DrystrokeError `defect` for another window
   */
  constructor(window: number, period: number) {
    if (!Number.isInteger(window) || window % 2 === 0 || window < 3) {
      throw new DrystrokeError(
        'defect',
        `a filter window of ${window} samples; expected an odd number, 3 or more`,
      )
    }
    this.#n = window
    this.#samples = new Float64Array(2 * window)
    this.#first = new Float64Array(window)
    this.#second = new Float64Array(window)
    this.#first.set(speedWeights(window, period))
    const m = (window - 1) / 2
    const s2 = sumOfSquares(window)
    for (let j = 0; j < window; j++) {
      const i = j - m
      this.#second[j] = (2 * (i * i - s2 / window)) / (period * period * spread(window))
    }
  }

  /** The next sample, one period after the last. */
  push(x: number): void {
    const n = this.#n
    const samples = this.#samples
    samples[this.#next] = x
    samples[this.#next + n] = x
    this.#next = this.#next + 1 === n ? 0 : this.#next + 1
    if (!this.ready) {
      this.#filled++
      if (this.#filled < n) return
      this.ready = true
    }
    // Differences from the newest sample keep the sums small beside large positions.
    const start = this.#next
    const first = this.#first
    const second = this.#second
    let speed = 0
    let acceleration = 0
    for (let j = 0; j < n; j++) {
      const y = samples[start + j]! - x
      speed += first[j]! * y
      acceleration += second[j]! * y
    }
    this.speed = speed
    this.acceleration = acceleration
  }

  /** The sample that `speed` and `acceleration` are for, once ready. */
  get centre(): number {
    return this.#samples[this.#next + (this.#n - 1) / 2]!
  }

  /** Forgets everything: after a gap in the samples. */
  reset(): void {
    this.ready = false
    this.speed = Number.NaN
    this.acceleration = Number.NaN
    this.#next = 0
    this.#filled = 0
  }
}
