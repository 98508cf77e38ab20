/** Buses whose sent frames go to the log as well; those of a stop go to every bus first, and to the log after that. */
import type { Bus, SendResult } from '../bus/contract.js'
import type { Clock } from '../clock.js'
import type { Frame } from '../wire/frame.js'
import type { RunLog } from './run-log.js'

export class LoggedBuses {
  readonly buses: readonly Bus[]
  readonly #clock: Clock
  readonly #log: Pick<RunLog, 'frame'>
  /** Frames that the log has yet to see; null: it sees each at once. */
  #unlogged: { bus: number; frame: Frame }[] | null = null

  constructor(buses: readonly Bus[], clock: Clock, log: Pick<RunLog, 'frame'>) {
    this.#clock = clock
    this.#log = log
    this.buses = buses.map((bus, i) => this.#logged(bus, i))
  }

  /** Frames that `act` sends wait for the log until all of them are handed over. */
  logAfter<T>(act: () => T): T {
    const unlogged: { bus: number; frame: Frame }[] = []
    this.#unlogged = unlogged
    try {
      return act()
    } finally {
      this.#unlogged = null
      for (const { bus, frame } of unlogged) this.#log.frame(bus, frame, this.#clock.now(), true)
    }
  }

  #logged(bus: Bus, index: number): Bus {
    return {
      name: bus.name,
      get waiting() {
        return bus.waiting
      },
      withdraw: () => bus.withdraw(),
      send: (frame: Frame): SendResult => {
        const result = bus.send(frame)
        if (result === 'sent') {
          if (this.#unlogged) this.#unlogged.push({ bus: index, frame })
          else this.#log.frame(index, frame, this.#clock.now(), true)
        }
        return result
      },
      get state() {
        return bus.state
      },
      onFrame: (listener) => bus.onFrame(listener),
      only: (filters) => bus.only(filters),
      onReport: (listener) => bus.onReport(listener),
      close: () => bus.close(),
    }
  }
}
