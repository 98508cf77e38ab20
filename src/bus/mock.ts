/**
 * A classical CAN bus in memory: arbitration by identifier, exact frame times, transmit queues.
 *
 * Left out:
 * - error frames, error counters, error passive and bus-off: every frame arrives whole at every other port
 *   (they come in a later part);
 * - the acknowledge slot: a port alone on the bus sends with success, where a real one would repeat for ever;
 * - bit timing and resynchronisation, propagation, oscillator tolerance: all ports see every bit at one instant;
 * - overload frames.
 *
 * Rules that a real bus leaves open, fixed here so that a run repeats:
 * - Frames offered at one instant arbitrate together. Arbitration is a task at that instant behind the tasks
 *   already due then, so that it sees what they send, whether the bus was idle or came out of its intermission.
 * - Two ports that offer the same arbitration field at once: the port attached first sends, then the other. On a
 *   real bus they would collide in the control or data field, or, bit for bit the same, pass as one frame; a rig
 *   that needs this is wrong, and both frames are seen here.
 * - A frame whose port is closed while it is on the wire still arrives; those that waited are dropped.
 *
 * Times are nominal: in real time too a frame lasts exactly as long as its bits, however late the task ran.
 */
import type { Nanos, Scheduler } from '../clock.js'
import type { BusState } from '../files/event.js'
import { frameBits, INTERMISSION_BITS } from '../wire/bits.js'
import type { Frame } from '../wire/frame.js'
import type { Bus, Filter, FrameListener, SendResult } from './contract.js'
import { passes } from './filter.js'
import { type QueueOrder, TransmitQueue } from './transmit-queue.js'

export interface MockPortOptions {
  /** Default `handed over`, as a host's socket does; drives' controllers offer `by identifier`. */
  readonly order?: QueueOrder
  /** Frames that may wait, default 32; the one on the wire does not count. */
  readonly queue?: number
}

export class MockBus {
  readonly name: string
  readonly #scheduler: Scheduler
  readonly #nsPerBit: number
  /** In order of attaching; replaced, never changed, so that a port may close while frames are handed out. */
  #ports: readonly MockPort[] = []
  /** idle: nothing is offered. due: arbitration has been scheduled. sending: a frame is on the wire. */
  #phase: 'idle' | 'due' | 'sending' = 'idle'
  /** When the frame on the wire began, or the next one will. */
  #start: Nanos = 0
  /** End of the last intermission. */
  #free: Nanos = 0
  #frame: Frame | undefined
  #bits = 0
  #sender: MockPort | undefined

  /** @param options.bitrate bit/s */
  constructor(scheduler: Scheduler, options: { readonly name: string; readonly bitrate: number }) {
    this.#scheduler = scheduler
    this.name = options.name
    this.#nsPerBit = 1e9 / options.bitrate
  }

  attach(name: string, options: MockPortOptions = {}): MockPort {
    const queue = new TransmitQueue(options.queue ?? 32, options.order ?? 'handed over')
    const port = new MockPort(name, queue, this.#offered, this.#detach)
    this.#ports = [...this.#ports, port]
    return port
  }

  readonly #detach = (port: MockPort): void => {
    this.#ports = this.#ports.filter((p) => p !== port)
  }

  /** A port has a frame waiting. */
  readonly #offered = (): void => {
    if (this.#phase !== 'idle') return
    this.#phase = 'due'
    const now = this.#scheduler.now()
    if (now < this.#free) {
      this.#scheduler.at(this.#free, this.#afterIntermission)
    } else {
      this.#start = now
      this.#scheduler.at(now, this.#arbitrate)
    }
  }

  /** Goes once more behind the tasks due at this instant: what they send takes part in the arbitration. */
  readonly #afterIntermission = (): void => {
    this.#start = this.#free
    this.#scheduler.at(this.#start, this.#arbitrate)
  }

  readonly #arbitrate = (): void => {
    let sender: MockPort | undefined
    let field = Infinity
    for (const port of this.#ports) {
      if (port.queue.field < field) {
        field = port.queue.field
        sender = port
      }
    }
    const frame = sender?.queue.take()
    if (frame === undefined) {
      this.#phase = 'idle' // the only offer was withdrawn by closing its port
      return
    }
    this.#phase = 'sending'
    this.#frame = frame
    this.#sender = sender
    this.#bits = frameBits(frame)
    this.#scheduler.at(this.#after(this.#bits - INTERMISSION_BITS), this.#arrive)
  }

  readonly #arrive = (): void => {
    const frame = this.#frame!
    const sender = this.#sender
    const t = this.#after(this.#bits - INTERMISSION_BITS)
    this.#free = this.#after(this.#bits)
    this.#frame = undefined
    this.#sender = undefined
    this.#phase = 'idle'
    if (this.#ports.some(hasWaiting)) {
      this.#phase = 'due'
      this.#scheduler.at(this.#free, this.#afterIntermission)
    }
    for (const port of this.#ports) if (port !== sender) port.deliver(frame, t)
  }

  /** The end of bit number `bits` of the frame on the wire. */
  #after(bits: number): Nanos {
    return this.#start + Math.round(bits * this.#nsPerBit)
  }
}

const hasWaiting = (port: MockPort): boolean => port.queue.length > 0

/** One node's end of a mock bus. Made by `MockBus.attach`. */
export class MockPort implements Bus {
  readonly name: string
  /** For the bus. */
  readonly queue: TransmitQueue
  readonly #offered: () => void
  readonly #detach: (port: MockPort) => void
  readonly #listeners: FrameListener[] = []
  #filters: readonly Filter[] | null = null
  #closed = false

  constructor(name: string, queue: TransmitQueue, offered: () => void, detach: (port: MockPort) => void) {
    this.name = name
    this.queue = queue
    this.#offered = offered
    this.#detach = detach
  }

  get waiting(): number {
    return this.queue.length
  }

  send(frame: Frame): SendResult {
    if (this.#closed) return 'closed'
    if (!(frame.id >= 0 && frame.id <= (frame.extended ? 0x1fffffff : 0x7ff) && Number.isInteger(frame.id))) {
      return 'bad identifier'
    }
    if (frame.data.length > 8) return 'too long'
    if (!this.queue.put(frame)) return 'queue full'
    this.#offered()
    return 'sent'
  }

  withdraw(): number {
    const waiting = this.queue.length
    this.queue.clear()
    return waiting
  }

  onFrame(listener: FrameListener): void {
    this.#listeners.push(listener)
  }

  only(filters: readonly Filter[] | null): void {
    this.#filters = filters
  }

  /** Nothing is reported yet: the mock has no error frames. */
  onReport(): void {}

  get state(): BusState {
    return 'active'
  }

  /** For the bus. */
  deliver(frame: Frame, t: Nanos): void {
    if (!passes(frame, this.#filters)) return
    for (const listener of this.#listeners) {
      if (this.#closed) return
      listener(frame, t)
    }
  }

  close(): void {
    this.#closed = true
    this.queue.clear()
    this.#detach(this)
  }
}
