/**
 * The proof of the stop path: at standstill, enabled, before anything has moved. Setpoints still flow: a drive that stops because
 * they ceased has not shown that it obeys.
 */
import type { Nanos } from '../clock.js'
import type { Rig } from '../files/rig.js'
import type { Drive } from '../link/drive.js'
import type { JointLink } from '../link/link.js'
import type { Course } from './course.js'
import type { LoggedBuses } from './logged-buses.js'
import type { Sending } from './sending.js'
import type { Stops } from './stops.js'

/** s, longest wait for the drives to leave operation enabled; of a stop, beyond its time-out. */
export const DISABLE_WITHIN = 2

export class StopProof {
  readonly #rig: Rig
  readonly #link: JointLink
  readonly #buses: LoggedBuses
  readonly #course: Course
  readonly #stops: Stops
  readonly #sending: Sending
  #due: boolean
  /** Every drive has answered, and the stop takes its power. */
  #letsGo = false
  /** When the last drive said that it is off. */
  #offAt: Nanos | null = null

  constructor(rig: Rig, link: JointLink, buses: LoggedBuses, course: Course, stops: Stops, sending: Sending) {
    this.#rig = rig
    this.#link = link
    this.#buses = buses
    this.#course = course
    this.#stops = stops
    this.#sending = sending
    const real = rig.buses.some((bus) => bus.address.kind !== 'mock')
    this.#due = rig.stop.prove === 'always' || real
  }

  /** The stop path has still to be proven before anything moves. */
  get due(): boolean {
    return this.#due
  }

  begin(): void {
    this.#course.enter('prove')
    this.#offAt = null
    this.#letsGo = false
    this.#sending.heed(this.#link.control('quick stop'))
  }

  /** @returns the path is proven: the arms are without torque, and were watched for sag */
  step(t: Nanos): boolean {
    const course = this.#course
    const { stop } = this.#rig
    const { drives } = this.#link
    if (!this.#letsGo) {
      this.#sending.shadow(t)
      if (course.stage !== 'prove') return false
      const mute = drives.find((d) => !answersQuickStop(d, course.since))
      if (mute && course.inStage(t) > stop.answer) {
        const says = `the drive did not answer the quick stop that proves the stop path within ${stop.answer * 1000} ms`
        this.#stops.latch('drive', mute.joint.name, says)
      }
      if (mute) return false
      this.#letsGo = true
      this.#buses.logAfter(() => this.#stops.sequence.begin(1, t))
      return false
    }
    this.#stops.sequence.tick(t)
    course.tell(this.#stops.sequence.notices)
    const on = drives.find((d) => !d.offSince(course.since))
    if (on && course.inStage(t) > stop.timeout + DISABLE_WITHIN)
      this.#stops.latch('drive', on.joint.name, 'the drive kept its torque when the stop path was proven')
    if (on) return false
    this.#offAt ??= t
    if (t - this.#offAt < stop.sagWindow * 1e9) return false
    this.#due = false
    return true
  }
}

function answersQuickStop(drive: Drive, since: Nanos): boolean {
  return drive.offSince(since) || (drive.state === 'quick stop active' && drive.feedbackAt > since)
}
