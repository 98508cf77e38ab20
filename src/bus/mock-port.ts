/** One node's end of a mock bus, with its controller: error counters, state, and what it reports. Made by `MockBus.attach`. */
import type { Nanos, Scheduler } from '../clock.js'
import type { BusState, BusTrouble } from '../files/event.js'
import type { Frame } from '../wire/frame.js'
import {
  type ConfinementInput,
  confine,
  type ErrorCounters,
  NO_ERRORS,
  PASSIVE_AT,
  RECOVERY_BITS,
  stateOf,
} from './confinement.js'
import type { Bus, Filter, FrameListener, ReportListener, SendResult } from './contract.js'
import { passes } from './filter.js'
import { Line, type LinePort } from './line.js'
import { type QueueOrder, TransmitQueue } from './transmit-queue.js'

export interface MockPortOptions {
  /** Default `handed over`, as a host's socket does; drives' controllers offer `by identifier`. */
  readonly order?: QueueOrder
  /** Frames that may wait, default 32; the one on the wire does not count. */
  readonly queue?: number
  /** ns after which the controller restarts itself from bus-off, as Linux's `restart-ms`; default null: only by `restart`. */
  readonly restartAfter?: Nanos | null
}

/** What a controller can see go wrong with a frame, for people. */
const TROUBLE: Partial<Record<ConfinementInput, readonly [BusTrouble, string]>> = {
  'send failed': ['bus error', 'a frame that was being sent was disturbed'],
  'receive failed': ['bus error', 'a frame that came in was disturbed'],
  'not acknowledged': ['no acknowledgement', 'nobody on the bus acknowledged a frame'],
}

const STATE_SAYS: Record<BusState, string> = {
  active: 'the error counters are below 96 again',
  warning: 'an error counter has reached 96',
  passive: 'an error counter has reached 128: the controller is error passive',
  'bus-off': 'too many frames could not be sent: the controller has switched itself off',
  down: 'the interface is down',
  gone: 'the adapter has vanished',
}

export class MockPort implements Bus, LinePort {
  readonly name: string
  readonly place: number
  readonly queue: TransmitQueue
  readonly #scheduler: Scheduler
  readonly #bus: Line
  readonly #restartAfter: Nanos | null
  readonly #frameListeners: FrameListener[] = []
  readonly #reportListeners: ReportListener[] = []
  #filters: readonly Filter[] | null = null
  #counters: ErrorCounters = NO_ERRORS
  /** Told since the last frame that went well: a run of errors of one kind is reported once. */
  #told: BusTrouble | null = null
  #fate: 'up' | 'down' | 'gone' | 'closed' = 'up'
  #cut = false
  /** Where its frames go: the bus, a line of its own when the plug is out, or nowhere. */
  #line: Line | null = null
  #alone: Line | null = null
  /** Frames that will still come in and be lost. */
  #overflow = 0
  /** A restart from bus-off that was asked for before the last change counts no more. */
  #recovery = 0
  /** ns from one batch of what comes in to the next; 0: each frame by itself */
  #batch: Nanos = 0
  #batched: Frame[] = []
  /** ns, until when nobody takes what comes in */
  #heldUntil: Nanos = 0

  /** @param place order of attaching */
  constructor(
    name: string,
    place: number,
    scheduler: Scheduler,
    line: Line,
    { queue = 32, order = 'handed over', restartAfter = null }: MockPortOptions,
  ) {
    this.name = name
    this.place = place
    this.queue = new TransmitQueue(queue, order)
    this.#scheduler = scheduler
    this.#bus = line
    this.#restartAfter = restartAfter
    this.#connect()
  }

  get waiting(): number {
    return this.queue.length
  }

  get state(): BusState {
    if (this.#fate === 'down' || this.#fate === 'gone') return this.#fate
    return stateOf(this.#counters)
  }

  get passive(): boolean {
    return this.#counters.transmit >= PASSIVE_AT || this.#counters.receive >= PASSIVE_AT
  }

  send(frame: Frame): SendResult {
    const line = this.#line
    if (line === null) return this.#refusal()
    if (!(frame.id >= 0 && frame.id <= (frame.extended ? 0x1fffffff : 0x7ff) && Number.isInteger(frame.id))) {
      return 'bad identifier'
    }
    if (frame.data.length > 8) return 'too long'
    if (!this.queue.put(frame)) return 'queue full'
    line.offered()
    return 'sent'
  }

  withdraw(): number {
    const waiting = this.queue.length
    this.queue.clear()
    return waiting
  }

  onFrame(listener: FrameListener): void {
    this.#frameListeners.push(listener)
  }

  only(filters: readonly Filter[] | null): void {
    this.#filters = filters
  }

  onReport(listener: ReportListener): void {
    this.#reportListeners.push(listener)
  }

  close(): void {
    this.#fate = 'closed'
    this.#recovery++
    this.queue.clear()
    this.#line?.leave(this)
    this.#line = null
  }

  // What can happen to it: for tests and for a scenario's faults.

  /** The interface goes down: what waited is lost, nothing is sent or received. */
  down(): void {
    if (this.#fate !== 'up') return
    this.#fate = 'down'
    this.#dropAll()
    this.#report(null, STATE_SAYS.down)
  }

  /** And up again, with error counters that begin anew. */
  up(): void {
    if (this.#fate !== 'down') return
    this.#fate = 'up'
    this.#counters = NO_ERRORS
    this.#told = null
    this.#connect()
    this.#report(null, 'the interface is up again')
  }

  /** Its plug is pulled: the controller is alone, nobody acknowledges what it sends, and it repeats that for ever. */
  cutLine(): void {
    this.#cut = true
    this.#connect()
  }

  /** The plug is in again; what waited is sent. */
  mendLine(): void {
    this.#cut = false
    this.#connect()
  }

  /** The adapter vanishes, for good. */
  vanish(): void {
    if (this.#fate === 'closed' || this.#fate === 'gone') return
    this.#fate = 'gone'
    this.#dropAll()
    this.#report(null, STATE_SAYS.gone)
  }

  /** Back from bus-off, once 128 times 11 recessive bits have passed. */
  restart(): void {
    if (this.#fate !== 'up' || this.state !== 'bus-off') return
    const mine = ++this.#recovery
    const wait = Math.round(RECOVERY_BITS * this.#bus.nsPerBit)
    this.#scheduler.at(this.#scheduler.now() + wait, () => {
      if (this.#recovery !== mine) return
      this.#counters = NO_ERRORS
      this.#told = null
      this.#connect()
      this.#report('restarted', 'the controller takes part again after bus-off')
    })
  }

  /** The next frames that come in find no room and are lost. */
  overflow(frames: number): void {
    this.#overflow = frames
    this.#told = null
  }

  /** What comes in is handed over at whole multiples of this time (ns), stamped then; 0: each frame as it comes. */
  batch(every: Nanos): void {
    this.#batch = every
  }

  /** Until `t` nobody takes what comes in: it is handed over then, and stamped then. */
  hold(t: Nanos): void {
    this.#heldUntil = t
  }

  // For the line.

  deliver(frame: Frame, t: Nanos): void {
    if (this.#counters !== NO_ERRORS) this.confine('received')
    if (this.#overflow > 0) {
      this.#overflow--
      this.#tell('receive overflow', 'frames came in faster than they were taken, and are lost')
      return
    }
    if (!passes(frame, this.#filters)) return
    if (this.#batch > 0 || this.#batched.length > 0 || t < this.#heldUntil) this.#collect(frame)
    else this.#handOver(frame, t)
  }

  #collect(frame: Frame): void {
    this.#batched.push(frame)
    if (this.#batched.length > 1) return
    const now = this.#scheduler.now()
    const whole = this.#batch > 0 ? Math.ceil(now / this.#batch) * this.#batch : now
    const due = Math.max(whole, this.#heldUntil)
    this.#scheduler.at(due, () => {
      const batch = this.#batched
      this.#batched = []
      for (const each of batch) this.#handOver(each, due)
    })
  }

  #handOver(frame: Frame, t: Nanos): void {
    for (const listener of this.#frameListeners) {
      if (this.#fate === 'closed') return
      listener(frame, t)
    }
  }

  confine(input: ConfinementInput): void {
    const good = input === 'sent' || input === 'received'
    if (good && this.#counters === NO_ERRORS) return
    if (this.#line === null) return // switched off, or pulled out of the bus, by what came just before
    const before = this.state
    this.#counters = confine(this.#counters, input)
    const { state } = this
    if (state === 'bus-off' && before !== 'bus-off') this.#switchOff()
    const trouble = TROUBLE[input]
    if (good) this.#told = null
    if (trouble && trouble[0] !== this.#told) {
      this.#told = trouble[0]
      this.#report(trouble[0], state === before ? trouble[1] : `${trouble[1]}; ${STATE_SAYS[state]}`)
    } else if (state !== before) this.#report(null, STATE_SAYS[state])
  }

  #switchOff(): void {
    this.#dropAll()
    const mine = this.#recovery
    if (this.#restartAfter === null) return
    this.#scheduler.at(this.#scheduler.now() + this.#restartAfter, () => {
      if (this.#recovery === mine) this.restart()
    })
  }

  #dropAll(): void {
    this.#recovery++
    this.#connect()
    this.queue.clear()
  }

  /** Joins the line that it belongs to now, and leaves the one before; a frame torn off on the way is offered again. */
  #connect(): void {
    const off = this.#fate !== 'up' || this.state === 'bus-off'
    if (this.#cut) this.#alone ??= new Line(this.#scheduler, this.#bus.nsPerBit)
    const line = off ? null : this.#cut ? this.#alone : this.#bus
    if (line === this.#line) return
    const torn = this.#line?.tear(this)
    this.#line = line
    if (torn) this.queue.putBack(torn)
    line?.join(this)
  }

  #refusal(): SendResult {
    if (this.#fate === 'closed') return 'closed'
    if (this.#fate === 'gone') return 'no such interface'
    return this.#fate === 'down' ? 'down' : 'bus-off'
  }

  #tell(trouble: BusTrouble, says: string): void {
    if (this.#told === trouble) return
    this.#told = trouble
    this.#report(trouble, says)
  }

  #report(trouble: BusTrouble | null, says: string): void {
    const { transmit: transmitErrors, receive: receiveErrors } = this.#counters
    const report = { state: this.state, trouble, transmitErrors, receiveErrors, says }
    const t = this.#scheduler.now()
    for (const listener of this.#reportListeners) listener(report, t)
  }
}
