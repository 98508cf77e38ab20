/**
 * Faults of mock buses, as a scenario asks for them. They act on the harness's own port, but for `disturbed`, which hits
 * whoever sends.
 *
 * Not modelled: several faults of one kind on a bus at a time (the newest counts, and its end ends them all).
 */
import type { BusFault } from '../files/scenario.js'
import { type RandomStream, randomStream } from '../random.js'
import type { Disturb } from './line.js'
import type { MockBus, MockPort } from './mock.js'

interface Place {
  readonly bus: MockBus
  readonly port: MockPort
  readonly random: RandomStream
  /** 0..1 of all frames that are disturbed */
  share: number
  /** None of the port's frames comes through. */
  mute: boolean
}

export class MockFaults {
  readonly #places: readonly Place[]

  /** @param ports the harness's, one a bus; @param seed of the run: which frames are hit comes from the streams `bus <name>` */
  constructor(buses: readonly MockBus[], ports: readonly MockPort[], seed: number) {
    this.#places = buses.map((bus, i) => ({
      bus,
      port: ports[i]!,
      random: randomStream(seed, `bus ${bus.name}`),
      share: 0,
      mute: false,
    }))
  }

  /** Begins (`on`) or ends a fault now. */
  fault({ fault, bus, share }: BusFault, on: boolean): void {
    const place = this.#places[bus]!
    const { port } = place
    switch (fault) {
      case 'down':
        if (on) port.down()
        else port.up()
        return
      case 'unplugged':
        if (on) port.cutLine()
        else port.mendLine()
        return
      case 'gone':
        port.vanish()
        return
      case 'disturbed':
        place.share = on ? share : 0
        place.bus.disturb(disturbance(place))
        return
      case 'bus-off':
        place.mute = on
        place.bus.disturb(disturbance(place))
        if (!on) port.restart()
        return
    }
  }
}

/** Nothing to ask while nothing is wrong. */
function disturbance(place: Place): Disturb | null {
  if (!place.mute && place.share === 0) return null
  return (_, sender) => {
    if (place.mute && sender === place.port) return 'everywhere'
    return place.share > 0 && place.random.uniform() < place.share ? 'everywhere' : null
  }
}
