/**
 * A bus whose adapter may throw: to everyone above it is down then, and the other buses still get their frames. It is the last
 * gate too for what may not leave at all.
 */
import type { Bus, SendResult } from '../bus/contract.js'
import type { Frame } from '../wire/frame.js'

export class GuardedBus {
  readonly #bus: Bus
  readonly #room: number
  readonly #mayLeave: (frame: Frame) => boolean

  /** @param queue frames that may be under way on it @param mayLeave asked of each frame; what may not is `not permitted` */
  constructor(bus: Bus, queue: number, mayLeave: (frame: Frame) => boolean = () => true) {
    this.#bus = bus
    this.#room = queue / 2
    this.#mayLeave = mayLeave
  }

  send(frame: Frame): SendResult {
    if (!this.#mayLeave(frame)) return 'not permitted'
    try {
      return this.#bus.send(frame)
    } catch {
      return 'down'
    }
  }

  /**
   * For what has time: half of the queue is left to what has none. A drive in another process answers faster than the wire
   * would take the questions, and would have the queue filled with them.
   * @returns false: not now
   */
  sendInTurn(frame: Frame): boolean {
    if (this.waiting >= this.#room) return false
    // Refused for another reason it counts as sent: nobody will answer it.
    return this.send(frame) !== 'queue full'
  }

  get waiting(): number {
    try {
      return this.#bus.waiting
    } catch {
      // Nothing is known to have left: no setpoint may follow.
      return Number.POSITIVE_INFINITY
    }
  }

  withdraw(): number {
    try {
      return this.#bus.withdraw()
    } catch {
      return 0
    }
  }
}
