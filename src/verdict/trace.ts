/**
 * Curves for the report in bounded memory: setpoint, feedback and raw following error of each joint, as least and greatest
 * value in equal spans of time. When the spans are used up they are joined in pairs, so a long run is told coarser.
 */
import type { Nanos } from '../clock.js'
import { Setpoints } from '../watch/setpoints.js'
import type { Observation, Watch } from '../watch/watch.js'
import type { Band, Trace } from './verdict.js'

export const TRACE_BINS = 600
const FIRST_WIDTH: Nanos = 5e6

export class TraceFold implements Pick<Watch, 'kinds' | 'see'> {
  readonly kinds = ['setpoint', 'feedback'] as const
  readonly #setpoints: Setpoints
  readonly #setpoint: Band[]
  readonly #feedback: Band[]
  readonly #error: Band[]
  #from: Nanos = Number.NaN
  #width: Nanos = FIRST_WIDTH
  #used = 0

  constructor(joints: number) {
    // Feedback of SYNC n may come when the setpoint of n + 1 has been sent; n - 1 is asked for.
    this.#setpoints = new Setpoints(joints, 4)
    const bands = (): Band[] => Array.from({ length: joints }, emptyBand)
    this.#setpoint = bands()
    this.#feedback = bands()
    this.#error = bands()
  }

  see(o: Observation): void {
    if (o.kind === 'setpoint') this.#setpoints.put(o.joint, o.index, o.position)
    else if (o.kind === 'feedback') {
      const bin = this.#binOf(o.t)
      const setpoint = this.#setpoints.paired(o.joint, o.index)
      take(this.#feedback[o.joint]!, bin, o.position)
      if (Number.isNaN(setpoint)) return
      take(this.#setpoint[o.joint]!, bin, setpoint)
      take(this.#error[o.joint]!, bin, setpoint - o.position)
    }
  }

  close(): Trace {
    const cut = ({ min, max }: Band): Band => ({
      min: min.slice(0, this.#used),
      max: max.slice(0, this.#used),
    })
    return {
      from: this.#used === 0 ? 0 : this.#from,
      bin: this.#width,
      bins: this.#used,
      setpoint: this.#setpoint.map(cut),
      feedback: this.#feedback.map(cut),
      error: this.#error.map(cut),
    }
  }

  #binOf(t: Nanos): number {
    if (Number.isNaN(this.#from)) this.#from = t
    let bin = Math.max(0, Math.floor((t - this.#from) / this.#width))
    while (bin >= TRACE_BINS) {
      for (const bands of [this.#setpoint, this.#feedback, this.#error])
        for (const band of bands) joinPairs(band)
      this.#width *= 2
      this.#used = Math.ceil(this.#used / 2)
      bin = Math.floor((t - this.#from) / this.#width)
    }
    if (bin >= this.#used) this.#used = bin + 1
    return bin
  }
}

function emptyBand(): Band {
  return {
    min: new Float64Array(TRACE_BINS).fill(Number.NaN),
    max: new Float64Array(TRACE_BINS).fill(Number.NaN),
  }
}

/** Comparisons with NaN are false: the first value always goes in. */
function take({ min, max }: Band, bin: number, value: number): void {
  if (!(value >= min[bin]!)) min[bin] = value
  if (!(value <= max[bin]!)) max[bin] = value
}

function joinPairs({ min, max }: Band): void {
  for (let i = 0; i < TRACE_BINS / 2; i++) {
    const [a, b] = [2 * i, 2 * i + 1]
    min[i] = min[a]! <= min[b]! || Number.isNaN(min[b]!) ? min[a]! : min[b]!
    max[i] = max[a]! >= max[b]! || Number.isNaN(max[b]!) ? max[a]! : max[b]!
  }
  min.fill(Number.NaN, TRACE_BINS / 2)
  max.fill(Number.NaN, TRACE_BINS / 2)
}
