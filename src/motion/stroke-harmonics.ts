/** Strokes that follow each other at changing rates, beside the mount's own frequency: which harmonic of them comes nearest to it. */
import type { MountSettings } from '../files/rig.js'
import { type Closeness, nearestHarmonic, ownFrequency } from './mount.js'

/** A harmonic, and the stroke that it is of. */
export interface StrokeHarmonic extends Closeness {
  /** 1/s, of the whole strokes */
  readonly rate: number
}

export class StrokeHarmonics {
  /** Hz, first bending frequency */
  readonly own: number
  /** null: no stroke yet */
  nearest: StrokeHarmonic | null = null
  readonly #most: number

  constructor(mount: MountSettings) {
    this.own = ownFrequency(mount)
    this.#most = mount.harmonics
  }

  /** @param rate 1/s, of one whole stroke; more than zero */
  see(rate: number): void {
    const harmonic = nearestHarmonic(this.own, rate, this.#most)
    if (this.nearest !== null && Math.abs(harmonic.margin) >= Math.abs(this.nearest.margin)) return
    this.nearest = { ...harmonic, rate }
  }
}
