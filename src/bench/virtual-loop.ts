/**
 * The loop in virtual time: it is punctual, unless a fault of the scenario holds it up; then it serves, misses and leaves out deadlines
 * as that of real time does. A process that stands still takes no frames and sends none: what comes in meanwhile waits for it.
 *
 * Not modelled: what controllers report meanwhile is told at once.
 */
import type { MockPort } from '../bus/mock.js'
import type { Nanos, VirtualTime } from '../clock.js'
import { LoopTime } from './loop-time.js'
import { Pacer } from './pacer.js'

export class VirtualLoop {
  readonly faults: LoopTime
  readonly #time: VirtualTime
  readonly #pacer: Pacer
  #through: Nanos = 0

  /** @param period s @param seed of the run @param buses the harness's own places on them */
  constructor(time: VirtualTime, period: number, seed: number, buses: readonly Pick<MockPort, 'hold'>[]) {
    this.#time = time
    this.#pacer = new Pacer(time.now(), period * 1e9)
    this.faults = new LoopTime(seed, (still) => {
      this.#through = time.now() + still
      for (const bus of buses) bus.hold(this.#through)
    })
  }

  /** On to the next deadline that is served, and its tick. What throws there, or on the way, is thrown, and the next turn comes all the same. */
  turn(tick: (late: Nanos, missed: number) => void): void {
    const time = this.#time
    const pacer = this.#pacer
    time.runUntil(pacer.due + this.faults.holdUp())
    pacer.begin(time.now())
    try {
      tick(pacer.late, pacer.missed)
    } finally {
      pacer.end(Math.max(time.now(), this.#through))
    }
  }
}
