/**
 * When setpoints come: one a control period, each joint's own, by SYNC index and by time.
 *
 * Left out: periods without a setpoint. Doubled: a second one for the same period. Off the beat: an interval to the last one that is
 * farther from the periods in between than the share `beat` of one. Repeated: the same value as before in the midst of motion, as of a
 * driver that runs slower than the bus: it stands for up to HOLD periods between two steps the same way of at least STEP counts, where
 * motion that goes on evenly cannot stand.
 *
 * Silence is counted in ticks of the loop, not in time: a loop that stalls sends nothing, and says nothing of the driver.
 */
import type { Nanos } from '../clock.js'

const HOLD = 10
const STEP = 4

export class SetpointBeat {
  /** Setpoints that were due, and those of them that were left out, doubled, off the beat, repeated. */
  due = 0
  missing = 0
  doubled = 0
  off = 0
  /** [joint] */
  readonly repeated: Float64Array
  readonly told: Float64Array
  /** Ticks without a setpoint of the joint: now, and at most. */
  readonly silent: Float64Array
  mostSilent = 0
  readonly #period: Nanos
  readonly #beat: number
  readonly #step: ArrayLike<number>
  readonly #index: Float64Array
  readonly #t: Float64Array
  readonly #x: Float64Array
  /** [joint] sign of the last large step, and periods for which the value has stood since */
  readonly #sign: Int8Array
  readonly #stood: Int32Array

  /** @param count [joint] rad of one count @param period s @param beat share of a period */
  constructor(count: ArrayLike<number>, period: number, beat: number) {
    const n = count.length
    this.repeated = new Float64Array(n)
    this.told = new Float64Array(n)
    this.silent = new Float64Array(n)
    this.#period = period * 1e9
    this.#beat = beat
    this.#step = Float64Array.from(count, (c) => STEP * c)
    this.#index = new Float64Array(n).fill(Number.NaN)
    this.#t = new Float64Array(n)
    this.#x = new Float64Array(n)
    this.#sign = new Int8Array(n)
    this.#stood = new Int32Array(n)
  }

  /** A pause: what came before it is not the period before. */
  reset(): void {
    this.#index.fill(Number.NaN)
    this.#sign.fill(0)
    this.silent.fill(0)
  }

  /** @param index of the period that it is for @param x rad @param t ns */
  put(j: number, index: number, x: number, t: Nanos): void {
    const gap = index - this.#index[j]!
    this.silent[j] = 0
    if (gap <= 0) {
      this.doubled++
      this.#x[j] = x
      return
    }
    if (!Number.isNaN(gap)) this.#interval(j, gap, x, t)
    this.#index[j] = index
    this.#t[j] = t
    this.#x[j] = x
  }

  /** A tick of the loop. @returns a joint whose setpoints have just been silent for `limit` ticks and more, or -1 */
  tick(limit: number): number {
    let worst = -1
    for (let j = 0; j < this.silent.length; j++) {
      const ticks = this.silent[j]! + 1
      this.silent[j] = ticks
      // The one that comes with this tick is counted a tick later.
      if (ticks - 1 > this.mostSilent) this.mostSilent = ticks - 1
      if (worst < 0 && ticks - 1 === limit) worst = j
    }
    return worst
  }

  #interval(j: number, gap: number, x: number, t: Nanos): void {
    this.due += gap
    this.missing += gap - 1
    if (Math.abs((t - this.#t[j]!) / this.#period - gap) > this.#beat) this.off++
    this.told[j] = this.told[j]! + 1
    const step = x - this.#x[j]!
    if (step === 0) {
      this.#stood[j] = this.#stood[j]! + 1
      return
    }
    const large = Math.abs(step) >= this.#step[j]!
    const sign = large ? Math.sign(step) : 0
    const stood = this.#stood[j]!
    if (stood > 0 && stood <= HOLD && sign !== 0 && sign === this.#sign[j]!)
      this.repeated[j] = this.repeated[j]! + stood
    this.#sign[j] = sign
    this.#stood[j] = 0
  }
}
