/**
 * The beat of a real-time loop: tick number k is due at `start + k period`, and no deadline moves. A loop that was held
 * up does not catch up in a burst: of the deadlines that have passed only the last is served, the others are missed, and
 * so is the next one when less than half a period is left to it once a tick is through.
 */
import type { Nanos, Scheduler } from '../../clock.js'

export interface BeatOptions {
  readonly scheduler: Scheduler
  /** ns; need not be whole */
  readonly period: number
  /**
   * @param late ns since the first deadline that was not served or left out on purpose
   * @param missed deadlines without a tick just before this one
   * @returns false: that was the last
   */
  readonly tick: (late: Nanos, missed: number) => boolean
}

export function beat({ scheduler, period, tick }: BeatOptions): void {
  const start = scheduler.now()
  let k = 0
  let served = -1
  const due = (n: number): Nanos => start + Math.round(n * period)
  const run = (): void => {
    const now = scheduler.now()
    const late = now - due(k)
    k += Math.max(0, Math.floor(late / period))
    const missed = k - served - 1
    served = k++
    // Whatever the tick throws, the next one comes.
    let goesOn = true
    try {
      goesOn = tick(late, missed)
    } finally {
      // What the tick handed over last, even if it was held up itself, would still be on the way.
      const through = scheduler.now()
      while (due(k) - through < period / 2) k++
      if (goesOn) scheduler.at(due(k), run)
    }
  }
  scheduler.at(start, run)
}
