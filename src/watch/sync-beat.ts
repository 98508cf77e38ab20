/** Whether the SYNCs of each bus come one period apart: fits whose samples are taken one a SYNC are right as long as they do. */
import type { Nanos } from '../clock.js'
import type { Rig } from '../files/rig.js'

/**
 * Share of a period by which a SYNC may come early or late: at 1 rad/s and 200 Hz that is 1.25 ms or 1.25 mrad, of which a fit over 11
 * samples makes 1.7 rad/s2.
 */
const UNEVEN = 0.25

export class SyncBeat {
  readonly #period: Nanos
  /** [bus] ns, of its last SYNC; NaN: none yet */
  readonly #last: Float64Array

  constructor({ control, buses }: Pick<Rig, 'control' | 'buses'>) {
    this.#period = control.period * 1e9
    this.#last = new Float64Array(buses.length).fill(Number.NaN)
  }

  /** A SYNC comes. @returns it came early or late by the one before */
  uneven(bus: number, t: Nanos): boolean {
    const off = t - this.#last[bus]! - this.#period
    this.#last[bus] = t
    return Math.abs(off) > UNEVEN * this.#period
  }
}
