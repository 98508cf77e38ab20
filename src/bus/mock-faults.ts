/**
 * Faults of mock buses, as a scenario asks for them. They act on the harness's own port, but for `disturbed`, which hits
 * whoever sends, and for strangers, which have places of their own on the bus.
 *
 * Not modelled: several faults of one kind on a bus at a time (the newest counts, and its end ends them all); what a wrong bit rate
 * does beyond errors; the time that a frame which nobody takes leaves free on the wire.
 */
import { NS_PER_S, nanos, type Scheduler } from '../clock.js'
import type { BusFaultName, Fault, FaultTaker } from '../files/faults/catalogue.js'
import type { Rig } from '../files/rig.js'
import { Ongoing } from '../ongoing.js'
import { type RandomStream, randomStream } from '../random.js'
import { frameBits } from '../wire/bits.js'
import type { Frame } from '../wire/frame.js'
import type { Disturb } from './line.js'
import { messagesOf } from './messages.js'
import type { MockBus, MockPort } from './mock.js'

/** Of a node that the rig does not know: outside of what CANopen gives away (CiA 301, table of COB-IDs). */
const STRANGE = 0x7ff
/** Goes before all others but NMT. */
const BABBLE: Frame = {
  id: 0x001,
  extended: false,
  remote: false,
  data: new Uint8Array(8).fill(0x55),
}

interface Place {
  readonly bus: MockBus
  readonly port: MockPort
  readonly random: RandomStream
  readonly ongoing: Ongoing
  readonly bitrate: number
  /** A setpoint to the first joint of the bus, all zero. */
  readonly setpoint: Frame
  /** Others on the bus, once there are any. */
  stranger: MockPort | null
  /** 0..1 of all frames that are disturbed */
  share: number
  /** What becomes of the frames of the port itself. */
  own: 'everywhere' | 'unheard' | null
  /** The port sees every frame of the others wrong. */
  deaf: boolean
}

type Behaviour = (place: Place, on: boolean, amount: number, scheduler: Scheduler) => void

const BEHAVIOUR: Readonly<Record<BusFaultName, Behaviour>> = {
  down: ({ port }, on) => (on ? port.down() : port.up()),
  unplugged: ({ port }, on) => (on ? port.cutLine() : port.mendLine()),
  gone: ({ port }) => port.vanish(),
  disturbed: (place, on, share) => {
    place.share = on ? share : 0
    disturb(place)
  },
  'bus-off': (place, on) => {
    place.own = on ? 'everywhere' : null
    disturb(place)
    if (!on) place.port.restart()
  },
  unacknowledged: (place, on) => {
    place.own = on ? 'unheard' : null
    disturb(place)
  },
  'wrong-bitrate': (place, on) => {
    place.own = on ? 'everywhere' : null
    place.deaf = on
    disturb(place)
    if (!on) place.port.restart()
  },
  'queue-full': ({ port }, on, frames) => port.queue.limit(on ? frames : null),
  overflow: ({ port }, on, frames) => port.overflow(on ? frames : 0),
  batched: ({ port }, on, every) => port.batch(on ? nanos(every) : 0),
  stray: (place, on, rate, scheduler) => {
    const frame: Frame = { ...BABBLE, id: STRANGE }
    send('stray', place, on, frame, NS_PER_S / rate, scheduler)
  },
  'second-master': (place, on, rate, scheduler) =>
    send('second-master', place, on, place.setpoint, NS_PER_S / rate, scheduler),
  flooded: (place, on, share, scheduler) => {
    const takes = (frameBits(BABBLE) / place.bitrate) * NS_PER_S
    send('flooded', place, on, BABBLE, takes / share, scheduler)
  },
}

export class MockFaults implements FaultTaker {
  readonly #places: readonly Place[]
  readonly #scheduler: Scheduler

  /** @param ports the harness's, one a bus; @param seed of the run: which frames are hit comes from the streams `bus <name>` */
  constructor(
    rig: Rig,
    scheduler: Scheduler,
    buses: readonly MockBus[],
    ports: readonly MockPort[],
    seed: number,
  ) {
    this.#scheduler = scheduler
    this.#places = buses.map((bus, i) => ({
      bus,
      port: ports[i]!,
      random: randomStream(seed, `bus ${bus.name}`),
      ongoing: new Ongoing(),
      bitrate: rig.buses[i]!.bitrate,
      setpoint: zeroSetpoint(rig, i),
      stranger: null,
      share: 0,
      own: null,
      deaf: false,
    }))
  }

  fault({ fault, place, amount }: Fault, on: boolean): void {
    BEHAVIOUR[fault as BusFaultName](this.#places[place]!, on, amount, this.#scheduler)
  }
}

function zeroSetpoint(rig: Rig, bus: number): Frame {
  const message = messagesOf(rig, bus).find((m) => m.use === 'setpoint')
  return { ...BABBLE, id: message?.id ?? STRANGE, data: new Uint8Array(message?.bytes ?? 0) }
}

/** A stranger sends a frame again and again; `every` in ns. */
function send(
  name: BusFaultName,
  place: Place,
  on: boolean,
  frame: Frame,
  every: number,
  scheduler: Scheduler,
): void {
  place.ongoing.end(name)
  if (!on) return
  place.stranger ??= place.bus.attach('stranger', { order: 'by identifier' })
  const { stranger } = place
  stranger.send(frame)
  place.ongoing.every(name, scheduler, every, () => stranger.send(frame))
}

/** Nothing to ask while nothing is wrong. */
function disturb(place: Place): void {
  place.bus.disturb(place.own === null && place.share === 0 ? null : disturbance(place))
}

function disturbance(place: Place): Disturb {
  return (_, sender) => {
    if (sender === place.port) {
      if (place.own !== null) return place.own
    } else if (place.deaf) return place.port
    return place.share > 0 && place.random.uniform() < place.share ? 'everywhere' : null
  }
}
