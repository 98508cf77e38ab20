/** How fast the strokes of a scenario follow each other: whole strokes in one direction, from catch to catch. */
import type { Look } from '../bench/scenario-walk.js'
import type { ReferenceDriver } from '../driver/reference.js'
import type { Rig, Side } from '../files/rig.js'

class SideCadence {
  /** 1/s; 0: it made no whole stroke */
  greatest = 0
  #phase = 0
  /** s, and which way; null: none since it began to stroke */
  #catch: { readonly t: number; readonly direction: number } | null = null
  #stroking = false

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
    if (this.#catch?.direction === direction)
      this.greatest = Math.max(this.greatest, 1 / (at - this.#catch.t))
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
      cadence: new SideCadence(),
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
}
