/** Bands of a vibration spectrum: what each comes to as acceleration, and what it is held against. */
import { showQuantity } from '../units.js'
import type { WatchSettings } from './settings.js'

/**
 * By how much the root of a band's power may be above what the stated noise comes to in the mean: one segment has few frequencies, and an
 * encoder may be noisier than its rig says. Noise alone must not stop arms.
 */
const NOISE = { warning: 1.5, limit: 3 } as const

export class ShakenBand {
  readonly name: string
  /** rad/s2, RMS */
  readonly warning: number
  readonly limit: number
  /** rad/s2, RMS of the segment that shook most */
  most = 0
  readonly #first: number
  /** (rad/s)^4 Hz of each bin */
  readonly #weights: Float64Array

  /**
   * @param from Hz; @param to Hz, left out; @param step Hz, from bin to bin
   * @param noise rad, standard deviation of white noise; @param rate Hz; @param shares of the acceleration limit (rad/s2)
   */
  constructor(
    range: { readonly from: number; readonly to: number; readonly step: number; readonly rate: number },
    noise: number,
    shares: { readonly warning: number; readonly limit: number },
    acceleration: number,
  ) {
    const { from, to, step, rate } = range
    this.name = `${trimmed(from)} to ${showQuantity(to, 'Hz')}`
    this.#first = Math.ceil(from / step)
    const bins = Math.max(0, Math.ceil(to / step) - this.#first)
    this.#weights = Float64Array.from(
      { length: bins },
      (_, i) => (2 * Math.PI * (this.#first + i) * step) ** 4 * step,
    )
    // White noise of variance s^2 has the density 2 s^2 / rate.
    const density = (2 * noise * noise) / rate
    const floor = Math.sqrt(this.#weights.reduce((sum, w) => sum + w * density, 0))
    this.warning = Math.hypot(NOISE.warning * floor, shares.warning * acceleration)
    this.limit = Math.hypot(NOISE.limit * floor, shares.limit * acceleration)
  }

  /** @param density rad^2/Hz, of one segment @returns rad/s2, RMS in the band */
  see(density: Float64Array): number {
    let power = 0
    for (let i = 0; i < this.#weights.length; i++) power += this.#weights[i]! * density[this.#first + i]!
    const rms = Math.sqrt(power)
    if (rms > this.most) this.most = rms
    return rms
  }
}

/** Three bands, the last up to half the rate; those that lie beyond it are left out. */
export function bandsOf(
  { bands, warning, limit }: WatchSettings['vibration'],
  rate: number,
  step: number,
  noise: number,
  acceleration: number,
): ShakenBand[] {
  const edges = [bands.from, bands.middle, bands.high].filter((edge) => edge < rate / 2)
  return edges.map((from, i) => {
    const to = edges[i + 1] ?? rate / 2
    return new ShakenBand({ from, to, step, rate }, noise, { warning, limit }, acceleration)
  })
}

const trimmed = (frequency: number): string => showQuantity(frequency, 'count')
