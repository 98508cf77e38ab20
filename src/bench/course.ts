/** Where a run is: its stage, since when, whether it is over. All events of the bench leave by here. */
import type { Clock, Nanos } from '../clock.js'
import type { BenchEvent, EndReason, Stage } from '../files/event.js'
import type { Rig } from '../files/rig.js'
import type { Notice } from '../link/drive.js'
import type { RunLog } from './run-log.js'

export class Course {
  readonly #clock: Clock
  readonly #log: Pick<RunLog, 'event'>
  readonly #rig: Pick<Rig, 'buses'>
  #stage: Stage | null = null
  #since: Nanos = 0
  #ended = false

  constructor(rig: Pick<Rig, 'buses'>, clock: Clock, log: Pick<RunLog, 'event'>) {
    this.#rig = rig
    this.#clock = clock
    this.#log = log
  }

  get now(): Nanos {
    return this.#clock.now()
  }

  /** null: the first tick is still to come. */
  get stage(): Stage | null {
    return this.#stage
  }

  /** When the present stage began. */
  get since(): Nanos {
    return this.#since
  }

  get ended(): boolean {
    return this.#ended
  }

  event(e: BenchEvent): void {
    this.#log.event(e)
  }

  enter(stage: Stage): void {
    this.#stage = stage
    this.#since = this.now
    this.event({ kind: 'stage', t: this.now, stage })
  }

  /** s in the present stage */
  inStage(t: Nanos): number {
    return (t - this.#since) / 1e9
  }

  end(reason: EndReason): void {
    this.event({ kind: 'end', t: this.now, reason })
    this.#ended = true
  }

  /** Of drives and buses; the list is emptied. */
  tell(notices: Notice[]): void {
    for (const n of notices.splice(0)) {
      const t = this.now
      if ('drive' in n) this.event({ kind: 'notice', t, place: n.drive.joint.name, says: n.says })
      else this.event({ kind: 'unchecked', t, place: this.#rig.buses[n.bus]!.name, says: n.says })
    }
  }
}
