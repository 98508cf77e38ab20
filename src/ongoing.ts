/** Things that happen again and again, or later, as long as a fault lasts. */
import type { Nanos, Scheduler } from './clock.js'

export class Ongoing {
  readonly #turns = new Map<string, number>()

  /** What was going on under this name ends. @returns whether what begins now still goes on */
  begin(name: string): () => boolean {
    const turn = (this.#turns.get(name) ?? 0) + 1
    this.#turns.set(name, turn)
    return () => this.#turns.get(name) === turn
  }

  end(name: string): void {
    this.begin(name)
  }

  /** `act` after each `period` (ns), as long as it goes on; it is told for how long that has been (ns). */
  every(name: string, scheduler: Scheduler, period: Nanos, act: (since: Nanos) => void): void {
    const goesOn = this.begin(name)
    const start = scheduler.now()
    const next = (n: number): void => {
      scheduler.at(start + Math.round(n * period), () => {
        if (!goesOn()) return
        act(scheduler.now() - start)
        next(n + 1)
      })
    }
    next(1)
  }
}
