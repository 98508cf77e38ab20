/** How fast the strokes of a scenario follow each other: whole strokes in one direction, from catch to catch. */
import type { Look } from '../bench/scenario-walk.js'
import type { ReferenceDriver } from '../driver/reference.js'
import type { Rig, Side } from '../files/rig.js'
import { type StrokeHarmonic, StrokeHarmonics } from '../motion/stroke-harmonics.js'

class SideCadence {
  /** 1/s; 0: it made no whole stroke */
  greatest = 0
  /** null: no mount is stated */
  readonly harmonics: StrokeHarmonics | null
  #phase = 0
  /** s, and which way; null: none since it began to stroke */
  #catch: { readonly t: number; readonly direction: number } | null = null
  #stroking = false

  constructor(harmonics: StrokeHarmonics | null) {
    this.harmonics = harmonics
  }

  see(stroking: boolean, phase: number, before: number, t: number): void {
    const moved = phase - this.#phase
    const was = this.#phase
    this.#phase = phase
    if (!stroking || !this.#stroking) {
      this.#stroking = stroking
      this.#catch = null
      return
    }
    // The phase goes round: a leap of more than half is a step across the catch.
    if (Math.abs(moved) < 0.5) return
    const direction = -Math.sign(moved)
    const step = moved + direction
    const share = direction > 0 ? (1 - was) / step : was / -step
    const at = before + share * (t - before)
    if (this.#catch?.direction === direction) {
      const rate = 1 / (at - this.#catch.t)
      this.greatest = Math.max(this.greatest, rate)
      this.harmonics?.see(rate)
    }
    this.#catch = { t: at, direction }
  }
}

export class CadenceLook implements Look {
  readonly #driver: Pick<ReferenceDriver, 'sides'>
  readonly #sides: readonly { readonly side: Side; readonly cadence: SideCadence }[]
  #t = 0

  constructor(rig: Rig, driver: Pick<ReferenceDriver, 'sides'>) {
    this.#driver = driver
    this.#sides = [...new Set(rig.arms.map(({ side }) => side))].map((side) => ({
      side,
      cadence: new SideCadence(rig.mount === null ? null : new StrokeHarmonics(rig.mount)),
    }))
  }

  see(_: Float64Array, t: number): void {
    for (const { side, cadence } of this.#sides) {
      const { state, phase } = this.#driver.sides[side]
      cadence.see(state === 'stroking', phase, this.#t, t)
    }
    this.#t = t
  }

  /** 1/s, of the side with the fastest stroke; null: there was no whole one */
  get fastest(): { readonly side: Side; readonly rate: number } | null {
    const found = this.#sides.reduce((a, b) => (b.cadence.greatest > a.cadence.greatest ? b : a))
    return found.cadence.greatest === 0 ? null : { side: found.side, rate: found.cadence.greatest }
  }

  /** Of all whole strokes the harmonic that comes nearest to the mount's own frequency (Hz); null: no mount is stated, or there was none */
  get nearest(): (StrokeHarmonic & { readonly side: Side; readonly own: number }) | null {
    const found = this.#sides.flatMap(({ side, cadence: { harmonics } }) =>
      harmonics?.nearest ? [{ ...harmonics.nearest, side, own: harmonics.own }] : [],
    )
    if (found.length === 0) return null
    return found.reduce((a, b) => (Math.abs(b.margin) < Math.abs(a.margin) ? b : a))
  }
}
