/**
 * Reads the emergency-stop box: asks the port for its modem lines, one question at a time, and tells each change of the
 * contact. The question goes through libuv's pool of threads; when the pool is blocked no answer comes, and that is a box
 * that is lost, after `stop-box.patience`: `poll` needs no thread to notice.
 *
 * Not tried on hardware: pseudo-terminals have no modem lines, so that the tests put a port of their own in.
 */
import type { ModemPort } from '../bus/serial.js'
import type { Nanos } from '../clock.js'
import type { Contact } from '../files/event.js'
import type { StopBoxSettings } from '../files/rig.js'
import { type BoxInput, type BoxState, type BoxTimes, boxStep, UNREAD } from './box.js'

export class BoxReader {
  readonly #port: Pick<ModemPort, 'get'>
  readonly #line: StopBoxSettings['line']
  readonly #times: BoxTimes
  readonly #onContact: (contact: Contact, t: Nanos) => void
  #state: BoxState = UNREAD
  #asking = false
  #t: Nanos = 0

  /** @param onContact called from `poll`, or when an answer comes, and only when the contact has changed */
  constructor(
    port: Pick<ModemPort, 'get'>,
    { line, settle, patience }: StopBoxSettings,
    onContact: (contact: Contact, t: Nanos) => void,
  ) {
    this.#port = port
    this.#line = line
    this.#times = { settle: settle * 1e9, patience: patience * 1e9 }
    this.#onContact = onContact
  }

  get contact(): Contact {
    return this.#state.contact
  }

  /** To be called in every tick of the loop. */
  poll(t: Nanos): void {
    this.#t = t
    this.#step({ kind: 'time', t })
    if (this.#asking) return
    this.#asking = true
    let asked: ReturnType<ModemPort['get']>
    try {
      asked = this.#port.get()
    } catch {
      this.#failed()
      return
    }
    asked.then(
      (lines) => {
        this.#asking = false
        this.#step({ kind: 'read', closed: lines[this.#line] === true, t })
      },
      () => this.#failed(),
    )
  }

  #failed(): void {
    this.#asking = false
    this.#step({ kind: 'failed' })
  }

  #step(input: BoxInput): void {
    const before = this.#state.contact
    this.#state = boxStep(this.#state, input, this.#times)
    if (this.#state.contact !== before) this.#onContact(this.#state.contact, this.#t)
  }
}
