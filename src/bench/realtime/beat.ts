/**
 * The beat of a real-time loop: tick number k is due at `start + k period`, and no deadline moves. A loop that was held
 * up does not catch up in a burst: of the deadlines that have passed only the last is served, the others are missed, and
 * so is the next one when it is less than half a period away.
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
    // Two ticks closer than half a period would find the setpoints of the first still waiting on the bus.
    if (due(k) - now < period / 2) k++
    // Asked for first: whatever the tick throws, the next one comes.
    const next = k
    let goesOn = true
    try {
      goesOn = tick(late, missed)
    } finally {
      if (goesOn) scheduler.at(due(next), run)
    }
  }
  scheduler.at(start, run)
}
