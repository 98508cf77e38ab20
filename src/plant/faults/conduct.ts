/** What a simulated drive does otherwise than it should: about stops, setpoints, and its own watch over its link. */
import type { Nanos, Scheduler } from '../../clock.js'
import type { DriveCommand } from '../../wire/observation.js'
import type { JointMotion } from '../joint.js'

export class Conduct {
  /** It takes no notice of a quick stop. */
  ignoresStop = false
  /** Commands that stop or disable it, and that it will miss. */
  missed = 0
  /** ns by which it acts on each setpoint late */
  lag: Nanos = 0
  /** ns for which the joint runs on before whatever stops it */
  runOn: Nanos = 0
  /** rad by which the encoder reads beside the truth from the next start on */
  zeroLost = 0
  /** It stops by itself when its link is lost. */
  watched: boolean
  readonly #scheduler: Scheduler
  #pending: (() => void) | null = null

  constructor(scheduler: Scheduler, watched: boolean) {
    this.#scheduler = scheduler
    this.watched = watched
  }

  /** Does a command not come to its mind? */
  misses(command: DriveCommand | undefined): boolean {
    if (command === 'quick stop' && this.ignoresStop) return true
    if (this.missed === 0 || (command !== 'quick stop' && command !== 'disable voltage')) return false
    this.missed--
    return true
  }

  /** Slows the joint or lets it go, now or once it has run on; what was to be done last then is done. */
  slow(motion: JointMotion, act: () => void): void {
    if (this.#pending === null && (this.runOn === 0 || !motion.powered)) {
      act()
      return
    }
    const begins = this.#pending === null
    this.#pending = act
    if (!begins) return
    const now = this.#scheduler.now()
    motion.runOn(now)
    this.#scheduler.at(now + this.runOn, () => {
      const then = this.#pending
      this.#pending = null
      then?.()
    })
  }

  /** The joint is led again: what would have slowed it is void. */
  led(): void {
    this.#pending = null
  }
}
