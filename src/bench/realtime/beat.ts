/**
 * The beat of a real-time loop: tick number k is due at `start + k period`, and no deadline moves. A loop that was held
 * up does not catch up in a burst: of the deadlines that have passed only the last is served, the others are missed, and
 * so is the next one when it is less than half a period away, or less than a quarter once the tick is through.
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
  /** The first deadline after the last one served that was not left out on purpose. */
  let owed = 0
  const due = (n: number): Nanos => start + Math.round(n * period)
  const run = (): void => {
    const now = scheduler.now()
    const late = now - due(owed)
    k += Math.max(0, Math.floor((now - due(k)) / period))
    const missed = k - served - 1
    served = k++
    // Two ticks closer than half a period would find the setpoints of the first still waiting on the bus.
    if (due(k) - now < period / 2) k++
    owed = k
    // Whatever the tick throws, the next one comes.
    let goesOn = true
    try {
      goesOn = tick(late, missed)
    } finally {
      const through = scheduler.now()
      // A tick that was held up itself makes the next one late, however punctual that is at its own deadline.
      const passed = due(owed) <= through
      // And one that comes right after it would be too close.
      while (due(k) - through < period / 4) k++
      if (!passed) owed = k
      if (goesOn) scheduler.at(due(k), run)
    }
  }
  scheduler.at(start, run)
}
