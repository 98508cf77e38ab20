/**
 * The order of a stop on the bus: no setpoint leaves any more; quick stop (category 1) or disable voltage
 * (category 0) to every drive of every bus; disable voltage at standstill or at the time-out. Each is repeated, by the
 * way it went and by another if there is one (SDO), to every drive that has not said that it obeys. NMT pre-operational comes last, by the
 * bench, once stop and sag have been watched: it ends the feedback, and with it the ear for controlwords.
 *
 * Nothing here waits for a file, a promise or a screen.
 */
import type { Nanos } from '../clock.js'
import type { EmergencyCategory } from '../files/event.js'
import type { Rig } from '../files/rig.js'
import type { Drive, Notice } from '../link/drive.js'
import type { JointLink } from '../link/link.js'
import type { StopCommand } from '../link/protocol.js'
import { Still } from '../motion/still.js'
import type { ReportedState } from '../wire/observation.js'

/** A stop frame that had no effect yet is sent again. */
const REPEAT_AFTER: Nanos = 20e6
/** What a drive said so long ago still counts as confirmed: who asks may be kept waiting, and drives answer in their own time. */
const LATELY: Nanos = 1e9

/** One drive as the stop sees it. */
interface Stopping {
  readonly drive: Drive
  readonly still: Still
  /** Time of the last feedback that `still` was given; feedback that has ceased says nothing new. */
  fed: Nanos
  /** It obeyed the command in force when it was looked at last. */
  obeyed: boolean
  /** It has been reported that telling it once was not enough. */
  told: boolean
  /** ns that a joint needs at most to stop from full speed, and to be seen still */
  readonly longest: Nanos
}

/** What one drive has confirmed. */
export interface Confirmation {
  readonly joint: number
  readonly place: string
  /** As it said last, `unknown`: nothing since the stop. */
  readonly state: ReportedState
  /** It said that the motor has no torque. */
  readonly off: boolean
  /** When its joint came to rest, null: it moves, or is not seen. */
  readonly since: Nanos | null
}

export class StopSequence {
  readonly #timeout: Nanos
  /** Feedback older than this has ceased. */
  readonly #unseenAfter: Nanos
  readonly #link: JointLink
  readonly #drives: readonly Stopping[]
  /** What was worth a look; whoever reads it empties it. */
  readonly notices: Notice[] = []
  /** What cannot be checked of a stop has been said. */
  #said = false
  #category: EmergencyCategory = 1
  #command: StopCommand | null = null
  #begun: Nanos = 0
  #sentAt: Nanos = 0
  /** Buses that have not taken the command yet. */
  #owed: number[] = []

  /** @param drives of the link that are to be stopped, in rig order */
  constructor(
    { stop, control, link: settings }: Pick<Rig, 'stop' | 'control' | 'link'>,
    link: JointLink,
    drives: readonly Drive[] = link.drives,
  ) {
    this.#unseenAfter = Math.max(REPEAT_AFTER, 2e9 * control.period)
    this.#timeout = stop.timeout * 1e9
    this.#link = link
    this.#drives = drives.map((drive) => ({
      drive,
      still: new Still(stop.still.speed, stop.still.hold),
      fed: Number.NEGATIVE_INFINITY,
      obeyed: false,
      told: false,
      longest: (drive.joint.limits.speed / settings.quickStop + stop.still.hold) * 1e9,
    }))
  }

  /**
   * A new stop; it acts at once.
   * @returns frames that still waited and were taken back, by bus
   */
  begin(category: EmergencyCategory, t: Nanos): number[] {
    const withdrawn = this.#link.halt()
    this.#category = category
    this.#begun = t
    for (const d of this.#drives) {
      d.still.restart()
      d.fed = d.drive.feedbackAt
      d.told = d.obeyed = false
    }
    this.#send(category === 0 ? 'disable voltage' : 'quick stop', t)
    if (!this.#said) this.notices.push(...this.#link.unchecked('stopping'))
    this.#said = true
    return withdrawn
  }

  /**
   * Asked for again while it is in force: the command goes out once more, and a lower category makes it harder.
   * @returns whether it did
   */
  again(category: EmergencyCategory, t: Nanos): boolean {
    if (!this.#command) return false
    const harder = category < this.#category
    if (harder) this.#category = category
    this.#send(this.#category === 0 ? 'disable voltage' : this.#command, t)
    return harder
  }

  /** Once a tick, after the stop began. */
  tick(t: Nanos): void {
    if (!this.#command) return
    for (const d of this.#drives) {
      if (d.drive.feedbackAt === d.fed) continue
      d.fed = d.drive.feedbackAt
      d.still.see(d.drive.position, d.fed)
    }
    if (this.#owed.length > 0) this.#owed = this.#sendTo(this.#owed, this.#command)
    if (this.#command === 'quick stop') {
      const off = this.#drives.every((d) => d.drive.offSince(this.#begun))
      if (off || this.still(t) || t - this.#begun >= this.#timeout) {
        this.#send('disable voltage', t)
        return
      }
    }
    let lapsed = false
    for (const d of this.#drives) {
      const obeys = this.#obeys(d.drive)
      // Whoever gives a drive its torque back after the stop does not have it for long.
      if (d.obeyed && !obeys) lapsed = true
      d.obeyed = obeys
    }
    if (!lapsed && t - this.#sentAt < REPEAT_AFTER) return
    const disobeying = this.#drives.filter((d) => !d.obeyed)
    if (disobeying.length === 0) return
    this.#send(this.#command, t)
    for (const d of disobeying) {
      const { way, next } = this.#link.insist(d.drive, this.#command)
      if (d.told || t - d.fed >= this.#unseenAfter) continue
      d.told = true
      const says = `did not obey ${this.#command} by ${way} within ${REPEAT_AFTER / 1e6} ms and ${next}`
      this.notices.push({ drive: d.drive, says })
    }
  }

  /**
   * Every joint has come to rest. One whose feedback has ceased cannot be seen: it is given the time that its quick stop
   * takes from full speed.
   */
  still(t: Nanos): boolean {
    return this.#drives.every((d) => {
      const unseen = t - d.fed
      return unseen < this.#unseenAfter ? d.still.since !== null : t - this.#begun >= d.longest
    })
  }

  /** What each of these drives has said since the stop began, in rig order; a drive that is not heard confirms nothing. */
  confirmations(t: Nanos): Confirmation[] {
    return this.#drives.map(({ drive, still, fed }) => ({
      joint: drive.joint.index,
      place: drive.joint.name,
      state: drive.feedbackAt > this.#begun ? drive.state : 'unknown',
      off: drive.offSince(this.#begun),
      since: t - fed < Math.max(this.#unseenAfter, LATELY) ? still.since : null,
    }))
  }

  /** A drive that is heard has not obeyed the stop in force for so long (s). */
  disobeyed(t: Nanos, within: number): boolean {
    if (!this.#command || t - this.#begun <= within * 1e9) return false
    return this.#drives.some((d) => t - d.fed < this.#unseenAfter && !this.#obeys(d.drive))
  }

  #obeys(drive: Drive): boolean {
    if (drive.offSince(this.#begun)) return true
    return (
      this.#command === 'quick stop' && drive.state === 'quick stop active' && drive.feedbackAt > this.#begun
    )
  }

  /** The latch has been reset and a new start begins. */
  clear(): void {
    this.#command = null
    this.#owed = []
  }

  #send(command: StopCommand, t: Nanos): void {
    if (command !== this.#command) for (const d of this.#drives) d.obeyed = false
    this.#command = command
    this.#sentAt = t
    this.#owed = this.#sendTo([...new Set(this.#drives.map((d) => d.drive.joint.wire.bus))], command)
  }

  #sendTo(buses: readonly number[], command: StopCommand): number[] {
    return [...new Set(this.#link.control(command, buses).map((n) => n.bus))]
  }
}
