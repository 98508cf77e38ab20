/** What the controllers of the buses say of themselves, from `bus` events: whether anything can be heard there. */
import type { BenchEvent, BusState } from '../files/event.js'
import type { Rig } from '../files/rig.js'

export type BusEvent = Extract<BenchEvent, { kind: 'bus' }>

export class BusHealth {
  readonly #places: readonly string[]
  readonly #states: BusState[]

  constructor(rig: Pick<Rig, 'buses'>) {
    this.#places = rig.buses.map((bus) => bus.name)
    this.#states = rig.buses.map(() => 'active')
  }

  /** @returns the bus's index; -1: a bus that the rig does not have */
  see({ place, state }: BusEvent): number {
    const bus = this.#places.indexOf(place)
    if (bus >= 0) this.#states[bus] = state
    return bus
  }

  state(bus: number): BusState {
    return this.#states[bus]!
  }

  /** Nothing can come in: what is missing there has this one cause. */
  isDeaf(bus: number): boolean {
    return isOut(this.#states[bus]!)
  }

  /** The bus works badly or not at all. */
  isFailing(bus: number): boolean {
    const state = this.#states[bus]!
    return state === 'passive' || isOut(state)
  }
}

/** Takes no part in the bus. */
export function isOut(state: BusState): boolean {
  return state === 'down' || state === 'gone' || state === 'bus-off'
}
