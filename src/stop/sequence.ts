/**
 * The order of a stop on the bus: no setpoint leaves any more; quick stop (category 1) or disable voltage
 * (category 0) to every drive of every bus, repeated until it was taken; disable voltage at standstill or at the
 * time-out. NMT pre-operational comes last, by the bench, once stop and sag have been watched: it ends the feedback.
 *
 * Nothing here waits for a file, a promise or a screen.
 */
import type { Nanos } from '../clock.js'
import type { StopSettings } from '../files/rig.js'
import type { JointLink } from '../link/link.js'
import { Still } from '../motion/still.js'
import type { DriveCommand } from '../wire/observation.js'

/** A stop frame that had no effect yet is sent again. */
const REPEAT_AFTER: Nanos = 20e6

export class StopSequence {
  readonly #settings: StopSettings
  readonly #link: JointLink
  readonly #still: readonly Still[]
  #category: 0 | 1 = 1
  #command: DriveCommand | null = null
  #begun: Nanos = 0
  #sentAt: Nanos = 0
  /** Buses that have not taken the command yet. */
  #owed: number[] = []

  constructor(settings: StopSettings, link: JointLink) {
    this.#settings = settings
    this.#link = link
    this.#still = link.drives.map(() => new Still(settings.still.speed, settings.still.hold))
  }

  /** Acts at once. A later call can only make the stop harder (a lower category). */
  begin(category: 0 | 1, t: Nanos): void {
    this.#link.silence()
    const begun = this.#command !== null
    if (begun && category >= this.#category) return
    this.#category = category
    if (!begun) this.#begun = t
    for (const still of this.#still) still.restart()
    this.#send(category === 0 ? 'disable voltage' : 'quick stop', t)
  }

  /** Once a tick, after the stop began. */
  tick(t: Nanos): void {
    if (!this.#command) return
    const { drives } = this.#link
    drives.forEach((d, i) => {
      if (d.feedbackAt > this.#begun) this.#still[i]!.see(d.position, t)
    })
    if (this.#owed.length > 0) this.#owed = this.#sendTo(this.#owed, this.#command)
    if (this.#command === 'quick stop') {
      const disabled = drives.every((d) => d.state !== 'operation enabled' && d.state !== 'quick stop active')
      const timeout = t - this.#begun >= this.#settings.timeout * 1e9
      if (this.#category === 1 && (disabled || this.still(t) || timeout)) {
        this.#send('disable voltage', t)
        return
      }
    }
    const obeyed = drives.every((d) => d.state !== 'operation enabled')
    if (!obeyed && t - this.#sentAt > REPEAT_AFTER) this.#send(this.#command, t)
  }

  /** Every joint has come to rest. One whose feedback has ceased cannot be seen, and is given the hold time. */
  still(t: Nanos): boolean {
    const hold = this.#settings.still.hold * 1e9
    return this.#link.drives.every((d, i) =>
      d.feedbackAt > this.#begun ? this.#still[i]!.since !== null : t - this.#begun > hold,
    )
  }

  /** The latch has been reset and a new start begins. */
  clear(): void {
    this.#command = null
    this.#owed = []
  }

  #send(command: DriveCommand, t: Nanos): void {
    this.#command = command
    this.#sentAt = t
    this.#owed = this.#sendTo(
      this.#link.drives.map((d) => d.joint.wire.bus).filter((bus, i, all) => all.indexOf(bus) === i),
      command,
    )
  }

  #sendTo(buses: readonly number[], command: DriveCommand): number[] {
    return [...new Set(this.#link.control(command, buses).map((n) => n.bus))]
  }
}
