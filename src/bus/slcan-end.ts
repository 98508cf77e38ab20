/** Either end of an slcan line: frames to text and text to units, with a bounded store for what the system does not take at once. */
import { type Clock, later, type Nanos } from '../clock.js'
import type { BusState } from '../files/event.js'
import type { Frame } from '../wire/frame.js'
import {
  SLCAN_LINE,
  SlcanReader,
  type SlcanReaderOptions,
  type SlcanUnit,
  slcanCommand,
  writeSlcan,
} from '../wire/slcan.js'
import { Adapter, type AdapterSettings } from './adapter.js'
import type { ByteLine } from './byte-line.js'
import type { SendResult } from './contract.js'
import { LineRing } from './line-ring.js'

/** Commands and their answers get through when frames fill the store. */
const ROOM_FOR_COMMANDS = 8
/** After this long without a byte taken it is told. ns */
const STUCK_AFTER: Nanos = 50e6
/** ms */
const TRY_AGAIN = 1

/** Frames that the ring holds, beside their text, to be reckoned with once they have left; null: a command. */
type Line = Frame | null

export abstract class SlcanEnd extends Adapter {
  readonly #line: ByteLine
  readonly #ring: LineRing
  readonly #lines: Line[] = []
  readonly #scratch = new Uint8Array(SLCAN_LINE)
  #retry: (() => void) | null = null
  /** When the system last took something, while lines wait. */
  #movedAt: Nanos = 0
  #stuckTold = false

  constructor(
    line: ByteLine,
    settings: AdapterSettings,
    clock: Clock,
    state: BusState,
    reader: SlcanReaderOptions = {},
  ) {
    super(settings, clock, state)
    this.#line = line
    this.#ring = new LineRing(settings.queue + ROOM_FOR_COMMANDS, SLCAN_LINE)
    const units = new SlcanReader(reader)
    line.onBytes((bytes) => {
      // All that came in one piece came at one time: the line has no clock.
      const t = this.stamp()
      units.read(bytes, (unit) => {
        if (!this.closed) this.see(unit, t)
      })
    })
    line.onLost((reason) => this.#lost(reason))
  }

  /** A unit came in. */
  protected abstract see(unit: SlcanUnit, t: Nanos): void
  /** The line is lost, and has been reported. */
  protected lostNow(): void {}

  get descriptor(): number {
    return this.#line.descriptor
  }

  /** For messages. */
  get place(): string {
    return this.#line.place
  }

  protected get held(): number {
    return this.#ring.length
  }

  protected hand(frame: Frame): SendResult {
    const length = writeSlcan(frame, this.#scratch)
    return this.#put(this.#scratch, length, frame)
  }

  /** Sends a command or an answer in the order of everything else. */
  protected command(text: string): void {
    const bytes = slcanCommand(text)
    this.#put(bytes, bytes.length, null)
  }

  /** Without its carriage return. */
  protected bell(): void {
    this.#put(Uint8Array.of(7), 1, null)
  }

  protected takeBack(): number {
    const before = this.#ring.length
    const taken = this.#ring.withdraw()
    this.#lines.length = before - taken
    return taken
  }

  protected end(): void {
    this.#drop()
    this.#line.close()
  }

  #put(bytes: Uint8Array, length: number, line: Line): SendResult {
    if (this.#ring.length > 0) {
      if (!this.#ring.put(bytes, length)) return 'queue full'
      this.#lines.push(line)
      this.#flush()
      return 'sent'
    }
    const taken = this.#line.write(bytes, 0, length)
    if (taken === null) return 'no such interface'
    if (taken === length) {
      if (line) this.left(line)
      return 'sent'
    }
    this.#ring.put(bytes, length, taken)
    this.#lines.push(line)
    this.#movedAt = this.now()
    this.#tryAgain()
    return 'sent'
  }

  readonly #through = (): void => {
    const line = this.#lines.shift()
    if (line) this.left(line)
  }

  #flush(): void {
    const taken = this.#ring.flush(this.#line, this.#through)
    if (taken === null) {
      this.#drop()
      return
    }
    const now = this.now()
    if (taken > 0) {
      this.#movedAt = now
      this.#stuckTold = false
    }
    if (this.#ring.length === 0) return
    if (!this.#stuckTold && now - this.#movedAt > STUCK_AFTER) {
      this.#stuckTold = true
      this.trouble('transmit time-out', `${this.place} has taken nothing for ${STUCK_AFTER / 1e6} ms`)
    }
    this.#tryAgain()
  }

  #tryAgain(): void {
    this.#retry ??= later(TRY_AGAIN, () => {
      this.#retry = null
      this.#flush()
    })
  }

  #lost(reason: string): void {
    this.#drop()
    this.become('gone', `${this.place}: ${reason}`)
    this.lostNow()
  }

  /** Whatever waits, half a line too, is never sent. */
  #drop(): void {
    this.#retry?.()
    this.#retry = null
    this.#ring.clear()
    this.#lines.length = 0
  }
}
