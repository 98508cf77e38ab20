/** A bus whose adapter may throw: to everyone above it is down then, and the other buses still get their frames. */
import type { Bus, SendResult } from '../bus/contract.js'
import type { Frame } from '../wire/frame.js'

export interface Outlet {
  send(frame: Frame): SendResult
  readonly waiting: number
  withdraw(): number
}

export function guarded(bus: Bus): Outlet {
  const attempt = <T>(act: () => T, otherwise: T): T => {
    try {
      return act()
    } catch {
      return otherwise
    }
  }
  return {
    send: (frame) => attempt(() => bus.send(frame), 'down'),
    get waiting() {
      return attempt(() => bus.waiting, 0)
    },
    withdraw: () => attempt(() => bus.withdraw(), 0),
  }
}
