/**
 * The kernel's stamps of received frames, in the run's time. They are of the wall clock, which can be set; what ties them to the
 * run's clock are frames that are sent, which are given the wall clock's time as well.
 *
 * A stamp is only ever believed between the frame before it and the present: a wall clock that is set in mid-run can
 * move a frame that far at most, until the next one is sent.
 */
import type { Nanos } from '../clock.js'

/** As the package gives it, with a received frame and into one that is sent. */
export interface WallStamp {
  readonly ts_sec?: number
  readonly ts_usec?: number
}

/** A comparison of the clocks that took longer says too little. */
const SHARP: Nanos = 0.5e6

export class KernelTime {
  /** s; times of the wall clock are counted from here, so that a double holds them to the nanosecond. */
  #origin: number | null = null
  /** The run's time minus the wall clock's. */
  #offset: Nanos | null = null

  /** A frame was sent. @param before @param after the run's time around it */
  compare(sent: WallStamp, before: Nanos, after: Nanos): void {
    if (after - before > SHARP && this.#offset !== null) return
    this.#origin ??= sent.ts_sec ?? null
    const wall = this.#wall(sent)
    if (wall !== null) this.#offset = before - wall
  }

  /** When the kernel saw a frame; the present where that is not known. */
  of(heard: WallStamp, now: Nanos): Nanos {
    const wall = this.#wall(heard)
    return wall === null || this.#offset === null ? now : Math.min(wall + this.#offset, now)
  }

  #wall({ ts_sec, ts_usec }: WallStamp): Nanos | null {
    if (ts_sec === undefined || ts_usec === undefined || this.#origin === null) return null
    return (ts_sec - this.#origin) * 1e9 + ts_usec * 1e3
  }
}
