/** What goes wrong with the time of the loop, as a scenario asks for it, and with the clock on the wall. */
import { type Nanos, nanos, wall } from '../clock.js'
import type { Fault, FaultTaker } from '../files/faults/catalogue.js'
import { type RandomStream, randomStream } from '../random.js'

export class LoopTime implements FaultTaker {
  readonly #standStill: (time: Nanos) => void
  readonly #random: RandomStream
  #uneven: Nanos = 0

  /**
   * @param seed of the run: how late ticks come is from the stream `loop`
   * @param standStill has the loop stand still for so long (ns), from now on
   */
  constructor(seed: number, standStill: (time: Nanos) => void) {
    this.#standStill = standStill
    this.#random = randomStream(seed, 'loop')
  }

  /** ns by which the coming tick is held up */
  holdUp(): Nanos {
    return this.#uneven === 0 ? 0 : Math.round(this.#uneven * this.#random.uniform())
  }

  fault({ fault, amount }: Fault, on: boolean): void {
    if (fault === 'stall') {
      if (on) this.#standStill(nanos(amount))
    } else if (fault === 'uneven') this.#uneven = on ? nanos(amount) : 0
    else if (fault === 'wall-step') wall.stepTo(on ? amount : 0)
  }
}
