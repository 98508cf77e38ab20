/** The beat of a real-time loop. Which deadlines it serves, and what it says of those that it does not, is in pacer.ts. */
import type { Nanos, Scheduler } from '../../clock.js'
import { Pacer } from '../pacer.js'

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
  /** ns by which the coming tick is held up on purpose; left out: none is */
  readonly holdUp?: () => Nanos
}

export function beat({ scheduler, period, tick, holdUp }: BeatOptions): void {
  const start = scheduler.now()
  const pacer = new Pacer(start, period)
  const run = (): void => {
    pacer.begin(scheduler.now())
    // Whatever the tick throws, the next one comes.
    let goesOn = true
    try {
      goesOn = tick(pacer.late, pacer.missed)
    } finally {
      pacer.end(scheduler.now())
      if (goesOn) scheduler.at(pacer.due + (holdUp ? holdUp() : 0), run)
    }
  }
  scheduler.at(start, run)
}
