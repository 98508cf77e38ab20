/**
 * The wire of a mock bus: who sends when, how long it takes, and what becomes of a frame that is disturbed or that
 * nobody acknowledges. It is a line of its own, so that a port whose plug is out goes on, alone, on a line of one.
 *
 * An error frame is an error flag of 6 bits, the flags of the others up to 6 bits later, a delimiter of 8 bits and the
 * intermission (ISO 11898-1, from memory; 31 bits with the suspend of an error-passive sender, as schedulability
 * analyses count it). The frame is offered again after it.
 */
import type { Nanos, Scheduler } from '../clock.js'
import { frameBits, INTERMISSION_BITS } from '../wire/bits.js'
import type { Frame } from '../wire/frame.js'
import type { ConfinementInput } from './confinement.js'
import type { TransmitQueue } from './transmit-queue.js'

/** A controller, as the line sees it. */
export interface LinePort {
  /** Order of attaching: of two equal offers the lower one goes first. */
  readonly place: number
  readonly queue: TransmitQueue
  readonly passive: boolean
  deliver(frame: Frame, t: Nanos): void
  /** What happened to a frame, for its error counters. A port that is bus-off after it has left the line. */
  confine(input: ConfinementInput): void
}

/**
 * Decides about each frame as it begins: null, it is well; `everywhere`, all see it wrong; a port, this receiver alone
 * sees it wrong and says so with its error flag; `unheard`, it leaves its sender and comes to nobody.
 */
export type Disturb = (frame: Frame, sender: LinePort) => 'everywhere' | 'unheard' | LinePort | null

const ERROR_FLAG = 6
const ERROR_DELIMITER = 8
/** Flags of those who saw the error first, then of those who saw the flag. */
const FLAGS = 2 * ERROR_FLAG
/** An error-passive sender waits for so long before it begins again. */
const SUSPEND = 8
/** Acknowledge delimiter, end of frame and intermission: what comes after the slot that stays empty. */
const AFTER_ACKNOWLEDGE = 1 + 7 + INTERMISSION_BITS

export class Line {
  readonly nsPerBit: number
  readonly #scheduler: Scheduler
  /** In order of `place`; replaced, never changed, so that a port may leave while frames are handed out. */
  #ports: readonly LinePort[] = []
  /** idle: nothing is offered. due: arbitration has been scheduled. sending: a frame is on the wire. */
  #phase: 'idle' | 'due' | 'sending' = 'idle'
  /** When the frame on the wire began, or the next one will. */
  #start: Nanos = 0
  /** End of the last intermission. */
  #free: Nanos = 0
  #frame: Frame | undefined
  #bits = 0
  #sender: LinePort | undefined
  /** The sender was cut off in the middle of its frame. */
  #torn = false
  /** An error-passive receiver that alone saw the present frame wrong: nobody hears of it. */
  #missedBy: LinePort | null = null
  /** The present frame comes to nobody. */
  #unheard = false
  #disturb: Disturb | null = null

  /** @param nsPerBit ns that a bit takes */
  constructor(scheduler: Scheduler, nsPerBit: number) {
    this.#scheduler = scheduler
    this.nsPerBit = nsPerBit
  }

  disturb(how: Disturb | null): void {
    this.#disturb = how
  }

  join(port: LinePort): void {
    this.#ports = [...this.#ports, port].sort((a, b) => a.place - b.place)
    if (port.queue.length > 0) this.offered()
  }

  /** The port sends no more; a frame of its own that is on the wire comes to its end. */
  leave(port: LinePort): void {
    this.#ports = this.#ports.filter((p) => p !== port)
  }

  /** The port is cut off. @returns its frame that was on the wire and does not arrive, if there was one */
  tear(port: LinePort): Frame | undefined {
    this.leave(port)
    if (this.#phase !== 'sending' || this.#sender !== port) return undefined
    this.#torn = true
    return this.#frame
  }

  /** A port has a frame waiting. */
  readonly offered = (): void => {
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
    let sender: LinePort | undefined
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
    const hit = this.#disturb === null ? null : this.#disturb(frame, sender!)
    if (hit !== null) this.#hit(hit, sender!)
    else this.#scheduler.at(this.#after(this.#bits - INTERMISSION_BITS), this.#arrive)
  }

  #hit(hit: 'everywhere' | 'unheard' | LinePort, sender: LinePort): void {
    if (hit === 'unheard') {
      this.#unheard = true
      this.#scheduler.at(this.#after(this.#bits - INTERMISSION_BITS), this.#arrive)
      return
    }
    const receiver = hit === 'everywhere' || hit === sender ? null : hit
    if (receiver?.passive) {
      // Its error flag is recessive: the frame goes on.
      this.#missedBy = receiver
      this.#scheduler.at(this.#after(this.#bits - INTERMISSION_BITS), this.#arrive)
      return
    }
    // In the middle of the frame: a rule of this mock's own.
    const bit = Math.ceil((this.#bits - INTERMISSION_BITS) / 2)
    this.#scheduler.at(this.#after(bit + FLAGS + ERROR_DELIMITER), () => this.#spoilt(receiver))
  }

  /** The error frame is over. */
  #spoilt(receiver: LinePort | null): void {
    const frame = this.#frame!
    const sender = this.#sender!
    this.#end()
    this.#free = this.#scheduler.now() + this.#bitsLong(INTERMISSION_BITS)
    if (!this.#torn) this.#again(frame, sender, 'send failed')
    this.#torn = false
    for (const port of this.#ports) {
      if (port === sender) continue
      port.confine('receive failed')
      if (port === receiver) port.confine('flagged first')
    }
    this.#goOn()
  }

  readonly #arrive = (): void => {
    const t = this.#after(this.#bits - INTERMISSION_BITS)
    if (this.#torn) {
      this.#cutOff(t)
      return
    }
    if (this.#missedBy !== null || this.#unheard || this.#ports.length < 2) {
      this.#heardByFew(t)
      return
    }
    const frame = this.#frame!
    const sender = this.#sender!
    this.#end()
    this.#free = this.#after(this.#bits)
    this.#goOn()
    sender.confine('sent')
    for (const port of this.#ports) if (port !== sender) port.deliver(frame, t)
  }

  /** The frame ended in the middle: to the receivers the bus fell silent, which is a stuff error. */
  #cutOff(t: Nanos): void {
    const sender = this.#sender
    this.#end()
    this.#torn = false
    this.#missedBy = null
    this.#unheard = false
    this.#free = t + this.#bitsLong(INTERMISSION_BITS)
    for (const port of this.#ports) if (port !== sender) port.confine('receive failed')
    this.#goOn()
  }

  /** Perhaps by nobody: then the acknowledge slot stayed empty. */
  #heardByFew(t: Nanos): void {
    const missedBy = this.#missedBy
    const unheard = this.#unheard
    this.#missedBy = null
    this.#unheard = false
    const frame = this.#frame!
    const sender = this.#sender!
    this.#end()
    const hearers = unheard ? [] : this.#ports.filter((port) => port !== sender && port !== missedBy)
    if (hearers.length > 0) {
      this.#free = this.#after(this.#bits)
      this.#goOn()
      sender.confine('sent')
      for (const port of hearers) port.deliver(frame, t)
    } else if (this.#ports.includes(sender)) {
      const error = this.#bits - AFTER_ACKNOWLEDGE + ERROR_FLAG + ERROR_DELIMITER
      // Counted at the end of frame that was not to be; the error frame ends six bits later.
      this.#free = this.#after(error + INTERMISSION_BITS + (sender.passive ? SUSPEND : 0))
      this.#again(frame, sender, 'not acknowledged')
      this.#goOn()
    } else this.#free = this.#after(this.#bits)
    missedBy?.confine('receive failed')
  }

  /** Automatic retransmission. The frame is put back first: a port that switches itself off drops it. */
  #again(frame: Frame, sender: LinePort, why: ConfinementInput): void {
    if (!this.#ports.includes(sender)) return // closed meanwhile
    sender.queue.putBack(frame)
    sender.confine(why)
  }

  #end(): void {
    this.#frame = undefined
    this.#sender = undefined
    this.#phase = 'idle'
  }

  #goOn(): void {
    if (this.#phase === 'idle' && this.#ports.some(hasWaiting)) {
      this.#phase = 'due'
      this.#scheduler.at(this.#free, this.#afterIntermission)
    }
  }

  /** The end of bit number `bits` of the frame on the wire. */
  #after(bits: number): Nanos {
    return this.#start + this.#bitsLong(bits)
  }

  #bitsLong(bits: number): Nanos {
    return Math.round(bits * this.nsPerBit)
  }
}

const hasWaiting = (port: LinePort): boolean => port.queue.length > 0
