/** A bus whose adapter may throw: to everyone above it is down then, and the other buses still get their frames. */
import type { Bus, SendResult } from '../bus/contract.js'
import type { Frame } from '../wire/frame.js'

export class GuardedBus {
  readonly #bus: Bus

  constructor(bus: Bus) {
    this.#bus = bus
  }

  send(frame: Frame): SendResult {
    try {
      return this.#bus.send(frame)
    } catch {
      return 'down'
    }
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
