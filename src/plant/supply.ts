/**
 * The source that all simulated drives share: its voltage falls by its resistance times the current that they draw, and the current is the
 * power that the joints take now, over the voltage at no load.
 *
 * Not modelled: losses, charge, what comes back from joints that brake (it is burnt), capacitors, wiring of each drive (but for what a
 * fault loses on the way: health.ts).
 */
import type { Nanos } from '../clock.js'
import type { SimulationSettings } from '../files/rig.js'

/** A joint that draws power. */
export interface Consumer {
  /** W that its motor gives to the joint now; 0 where the joint gives */
  power(t: Nanos): number
}

export class Supply {
  readonly #settings: SimulationSettings['supply']
  readonly #consumers: Consumer[] = []

  constructor(settings: SimulationSettings['supply']) {
    this.#settings = settings
  }

  feeds(consumer: Consumer): void {
    this.#consumers.push(consumer)
  }

  /** V at the drives. */
  at(t: Nanos): number {
    const { voltage, resistance } = this.#settings
    let power = 0
    for (const consumer of this.#consumers) power += consumer.power(t)
    return Math.max(0, voltage - (resistance * power) / voltage)
  }
}
