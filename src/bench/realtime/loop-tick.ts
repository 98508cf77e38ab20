/**
 * One turn of the loop of a real-time run, and how the loop goes on: whatever throws is kept and stops the arms, and the
 * next turn comes all the same.
 */
import type { Nanos } from '../../clock.js'
import type { Guardian } from '../../stop/guardian/start.js'
import type { Bench } from '../bench.js'
import { MOST_DEFECTS } from '../virtual.js'
import type { RecordStream } from './record-stream.js'

export interface LoopParts {
  readonly bench: Pick<Bench, 'tick' | 'ended' | 'stopCounts'>
  /** null: simulated arms, which have none. */
  readonly guardian: Pick<Guardian, 'beat'> | null
  readonly stream: Pick<RecordStream, 'flush'>
  /** Where what was thrown goes, and how much there was so far. */
  readonly defects: { readonly onDefect: (error: unknown) => void; readonly count: () => number }
  /** Input of the tick, which belongs to it: what throws here leaves it unfinished. */
  readonly before: () => void
  /** For whoever looks on. @param ticks turns before this one */
  readonly after: (ticks: number) => void
}

/** `over`: the arms are at rest. `given up`: they may not be, and the guardian is to find that nobody ticks any more. */
export type Next = 'goes on' | 'over' | 'given up'

export class LoopTick {
  readonly #p: LoopParts
  #ticks = 0

  constructor(parts: LoopParts) {
    this.#p = parts
  }

  run(late: Nanos, missed: number): Next {
    const { bench, guardian, stream, defects, before, after } = this.#p
    const finished = this.#guarded(() => {
      before()
      bench.tick(late, missed)
    })
    // Only a finished tick is a sign of life: ticks that throw without end are the guardian's matter.
    if (finished) guardian?.beat(bench.stopCounts)
    this.#guarded(() => stream.flush())
    after(this.#ticks++)
    if (bench.ended) return 'over'
    if (defects.count() <= MOST_DEFECTS) return 'goes on'
    // Given up with the arms perhaps enabled: no good-bye. The guardian misses the beat, ends this process and stops them.
    return guardian ? 'given up' : 'over'
  }

  /** @returns false: it threw, and the arms are being stopped */
  #guarded(act: () => void): boolean {
    try {
      act()
      return true
    } catch (error) {
      this.#p.defects.onDefect(error)
      return false
    }
  }
}
