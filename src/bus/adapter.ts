/**
 * What every adapter to a real bus shares: checks before sending, filters, stamps, reports, and the bound on what is
 * under way. An adapter adds how a frame is handed over, and what its device tells.
 */
import type { Clock, Nanos } from '../clock.js'
import type { BusState, BusTrouble } from '../files/event.js'
import type { Frame } from '../wire/frame.js'
import type { Bus, Filter, FrameListener, ReportListener, SendResult } from './contract.js'
import { passes } from './filter.js'
import { Outstanding } from './outstanding.js'

export interface AdapterSettings {
  readonly name: string
  /** bit/s of the bus */
  readonly bitrate: number
  /** bit/s of the serial line on the way to it; Infinity when there is none */
  readonly serialRate: number
  /** Frames that may be under way; one more is refused. */
  readonly queue: number
  /** Nothing is sent, and where the controller can, it does not even acknowledge; see `Adapter.silent`. */
  readonly listenOnly?: boolean
}

export interface ErrorCounters {
  readonly transmitErrors: number | null
  readonly receiveErrors: number | null
}

/** What `send` answers in a state in which nothing can be sent. */
const BARRED: Partial<Record<BusState, SendResult>> = {
  'bus-off': 'bus-off',
  down: 'down',
  gone: 'no such interface',
}

const UNKNOWN: ErrorCounters = { transmitErrors: null, receiveErrors: null }

/** The same trouble is told once in this time: whoever records it is not drowned by a line gone mad. ns */
const TELL_EVERY: Nanos = 100e6

export abstract class Adapter implements Bus {
  readonly name: string
  readonly #clock: Clock
  readonly #queue: number
  readonly #outstanding: Outstanding
  readonly #frameListeners: FrameListener[] = []
  readonly #reportListeners: ReportListener[] = []
  readonly #told = new Map<BusTrouble, { at: Nanos; since: number }>()
  readonly #listenOnly: boolean
  #filters: readonly Filter[] | null = null
  #state: BusState
  #last: Nanos = 0
  #closed = false

  constructor(settings: AdapterSettings, clock: Clock, state: BusState) {
    this.name = settings.name
    this.#clock = clock
    this.#queue = settings.queue
    this.#listenOnly = settings.listenOnly === true
    // As many may be excused by a stop as fill the queue, and the stop's own frames fill it again.
    this.#outstanding = new Outstanding(4 * settings.queue, settings.bitrate, settings.serialRate)
    this.#state = state
  }

  /** Of the open line that another process inherits to send on it; null: it opens one of its own. */
  abstract readonly descriptor: number | null

  /** Hands a good frame over in a state that lets it pass. */
  protected abstract hand(frame: Frame): SendResult
  /** Frames that are held back in this process. */
  protected abstract readonly held: number
  /** Takes those of them back that can be. @returns how many */
  protected abstract takeBack(): number
  protected abstract end(): void
  /** The adapter's own filter, where it has one; frames that it lets through are looked at once more. */
  protected narrow(_filters: readonly Filter[] | null): void {}

  get state(): BusState {
    return this.#state
  }

  /** The controller is in its listen-only mode: it does not acknowledge either. False also where that cannot be known. */
  get silent(): boolean {
    return false
  }

  protected get closed(): boolean {
    return this.#closed
  }

  send(frame: Frame): SendResult {
    if (this.#closed) return 'closed'
    const { id, extended, data } = frame
    if (!(id >= 0 && id <= (extended ? 0x1fffffff : 0x7ff) && Number.isInteger(id))) return 'bad identifier'
    if (data.length > 8) return 'too long'
    if (this.#listenOnly) return 'not permitted'
    const barred = BARRED[this.#state]
    if (barred !== undefined) return barred
    if (this.held + this.#outstanding.held(this.#clock.now()) >= this.#queue) return 'queue full'
    return this.hand(frame)
  }

  onFrame(listener: FrameListener): void {
    this.#frameListeners.push(listener)
  }

  only(filters: readonly Filter[] | null): void {
    this.#filters = filters
    if (!this.#closed) this.narrow(filters)
  }

  onReport(listener: ReportListener): void {
    this.#reportListeners.push(listener)
  }

  get waiting(): number {
    return this.#closed ? 0 : this.held + this.#outstanding.count(this.#clock.now())
  }

  withdraw(): number {
    if (this.#closed) return 0
    this.#outstanding.count(this.#clock.now())
    this.#outstanding.excuse()
    return this.takeBack()
  }

  close(): void {
    if (this.#closed) return
    this.#closed = true
    this.end()
  }

  protected now(): Nanos {
    return this.#clock.now()
  }

  /** The system has taken all of a frame. */
  protected left(frame: Frame): void {
    this.#outstanding.add(frame, this.#clock.now())
  }

  /** The present, or an earlier time that is known better; never before what was given last. */
  protected stamp(t: Nanos = this.#clock.now()): Nanos {
    this.#last = Math.max(this.#last, t)
    return this.#last
  }

  protected deliver(frame: Frame, t: Nanos): void {
    if (!passes(frame, this.#filters)) return
    for (const listener of this.#frameListeners) {
      if (this.#closed) return
      listener(frame, t)
    }
  }

  /** The state from now on; told only when it is another. */
  protected become(state: BusState, says: string, counters = UNKNOWN): void {
    if (state === this.#state || this.#closed) return
    this.#state = state
    // What was under way when the bus was lost will not be missed: nothing is sent again.
    if (BARRED[state] !== undefined) this.#outstanding.clear()
    this.#tell(null, says, counters)
  }

  /** Trouble that was seen; the state stays. */
  protected trouble(trouble: BusTrouble, says: string, counters = UNKNOWN): void {
    if (this.#closed) return
    const now = this.#clock.now()
    const told = this.#told.get(trouble)
    if (told && now - told.at < TELL_EVERY) {
      told.since++
      return
    }
    const more = told && told.since > 0 ? `; ${told.since} more since this was last told` : ''
    this.#told.set(trouble, { at: now, since: 0 })
    this.#tell(trouble, `${says}${more}`, counters)
  }

  #tell(trouble: BusTrouble | null, says: string, counters: ErrorCounters): void {
    const report = { state: this.#state, trouble, ...counters, says }
    const t = this.stamp()
    for (const listener of this.#reportListeners) listener(report, t)
  }
}
