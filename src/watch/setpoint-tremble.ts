/**
 * How the setpoints of one joint tremble: their acceleration by second differences, as a spectrum of windows of about a second (Welch), from
 * a frequency on up to half the control rate. Strokes are C2 and slow: their harmonics are long gone there.
 *
 * A single leap shows in the two windows that it lies in, which overlap by half, and is no tremble: what counts is the quietest of three
 * windows that follow one another. Values that are rounded tremble by their rounding, which the limits leave room for.
 */
import { Welch } from '../motion/welch.js'

/** s, length of a window; to the nearest power of two in samples */
const WINDOW = 1
const LEAST_SAMPLES = 16
/** Windows in a row that must shake. */
const ROW = 3
/** By how much the rounding's RMS in one window may be above its mean. */
const ROUNDING = { warning: 1.5, limit: 3 } as const

export class SetpointTremble {
  /** rad/s2, RMS beyond which it is told */
  warning = 0
  limit = 0
  /** rad/s2, RMS of the quietest of three windows: the most that it was */
  most = 0
  readonly #acceleration: number
  readonly #shares: { readonly warning: number; readonly limit: number }
  readonly #period: number
  readonly #from: number
  #welch: Welch
  #first: number
  #skip: number
  /** rad/s2, of the last windows, the newest first */
  readonly #row = new Float64Array(ROW)
  #windows = 0
  #x1 = 0
  #x2 = 0
  #known = 0
  #index = -2

  /**
   * @param from Hz @param shares of the acceleration limit (rad/s2) @param skip samples that are left out, so that not all joints' windows end
   * in one tick
   */
  constructor(
    rate: number,
    from: number,
    shares: { readonly warning: number; readonly limit: number },
    acceleration: number,
    skip: number,
  ) {
    const samples = Math.max(LEAST_SAMPLES, 2 ** Math.round(Math.log2(WINDOW * rate)))
    this.#period = 1 / rate
    this.#from = from
    this.#shares = shares
    this.#acceleration = acceleration
    this.#skip = skip
    this.#welch = new Welch(samples, rate)
    this.#first = Math.ceil(from / this.#welch.step)
    this.roundedTo(0)
  }

  /** @param step rad, to which values are rounded: uniform noise of variance step^2/12 */
  roundedTo(step: number): void {
    const { warning, limit } = this.#shares
    const T = this.#period
    // Second differences of white noise: (2 sin(pi f T))^4, mean over the frequencies from `from` to half the rate.
    const edge = Math.min(1, 2 * this.#from * T)
    let gain = 0
    const places = 200
    for (let i = 0; i < places; i++) {
      const u = edge + ((1 - edge) * (i + 0.5)) / places
      gain += ((1 - edge) / places) * (2 * Math.sin((Math.PI * u) / 2)) ** 4
    }
    const floor = (step / Math.sqrt(12)) * (Math.sqrt(gain) / T ** 2)
    this.warning = Math.hypot(ROUNDING.warning * floor, warning * this.#acceleration)
    this.limit = Math.hypot(ROUNDING.limit * floor, limit * this.#acceleration)
  }

  /** What came before does not count. */
  breaks(): void {
    this.#known = 0
    this.#windows = 0
    this.#welch.breaks()
  }

  /** @param index of the period @param x rad @returns a window has ended, and there are enough of them: see `now` */
  put(index: number, x: number): boolean {
    if (index === this.#index) {
      this.#x1 = x
      return false
    }
    if (index !== this.#index + 1 || !Number.isFinite(x)) this.breaks()
    this.#index = index
    const acceleration = (x - 2 * this.#x1 + this.#x2) / this.#period ** 2
    this.#x2 = this.#x1
    this.#x1 = x
    if (this.#known < 2) {
      this.#known++
      return false
    }
    if (this.#skip > 0) {
      this.#skip--
      return false
    }
    if (!this.#welch.push(acceleration)) return false
    this.#row.copyWithin(1, 0)
    this.#row[0] = this.#rms()
    this.#windows++
    if (this.#windows >= ROW && this.now > this.most) this.most = this.now
    return this.#windows >= ROW
  }

  /** rad/s2, RMS of the quietest of the last three windows */
  get now(): number {
    return Math.min(this.#row[0]!, this.#row[1]!, this.#row[2]!)
  }

  #rms(): number {
    const { latest, step } = this.#welch
    let power = 0
    for (let k = this.#first; k < latest.length; k++) power += latest[k]! * step
    return Math.sqrt(power)
  }
}
