/**
 * Whose the buses are in a run in which the driver owns them. As long as the driver may live they are its own: the harness
 * sends its stop PDO and its heartbeat. Once the driver's process is known to be gone the bench takes over what keeps the
 * drives reporting, so that a stop can be watched to its end; it never moves anything on.
 */
import type { Nanos } from '../clock.js'
import type { DrystrokeError } from '../errors.js'
import type { Command } from '../files/scenario.js'
import type { JointLink } from '../link/link.js'
import { type BusOwner, orderIn } from './bus-owner.js'
import type { Course } from './course.js'
import type { Script } from './script.js'
import type { Stops } from './stops.js'

const AT_REST: Command = { surge: 0, yaw: 0 }

export class Ownership {
  readonly #owner: BusOwner
  readonly #link: JointLink
  readonly #course: Course
  readonly #stops: Stops
  readonly #script: Script
  #silenced = false
  #told = false
  #gone = false
  /** The trouble that was a stop already. */
  #troubled: DrystrokeError | null = null

  constructor(owner: BusOwner, link: JointLink, course: Course, stops: Stops, script: Script) {
    this.#owner = owner
    this.#link = link
    this.#course = course
    this.#stops = stops
    this.#script = script
  }

  /** The driver is known to be gone: nobody is there to enable anything anew. */
  get gone(): boolean {
    return this.#gone
  }

  /** The first act of a tick. A driver that has ended in a run leaves its arms to a stop. */
  look(): void {
    const course = this.#course
    const { trouble = null } = this.#owner
    // No new start with one that is still in trouble.
    if (course.stage === 'setup') this.#troubled = null
    if (trouble && trouble !== this.#troubled && course.stage !== 'disable' && course.stage !== 'rest') {
      this.#troubled = trouble
      this.#stops.latch('driver', '', trouble.message)
      course.event({ kind: 'driver', t: course.now, code: trouble.code, place: '', says: trouble.message })
    }
    if (this.#gone || !this.#owner.gone) return
    this.#gone = true
    this.#link.own()
    if (course.stage === 'disable' || course.stage === 'rest') return
    const says = this.#silenced
      ? 'the process of the driver has been ended'
      : 'the process of the driver has ended'
    this.#stops.latch('driver', '', says)
    if (!this.#silenced && !this.#troubled)
      course.event({ kind: 'driver', t: course.now, code: 'driver-gone', place: '', says })
  }

  /** The last act of a tick. */
  tell(t: Nanos): void {
    const { ended, stage } = this.#course
    const order = orderIn(ended ? null : stage)
    const { command: given, withheld } = this.#script
    // On the way to its start nothing is asked of it: not what was in force before a stop either.
    const led = stage === 'play' || stage === 'park'
    const command = led && withheld ? null : led ? given : AT_REST
    if (!this.#gone) this.#owner.tell(order, command, t)
  }

  /** It does not obey: before the stop goes out once more its process is ended, where it is one of ours. */
  silence(): void {
    if (this.#silenced || !this.#owner.ours) return
    this.#silenced = true
    this.#owner.silence()
  }

  /** After the frames of a stop: the record of what came before them. */
  tellSilenced(): void {
    if (!this.#silenced || this.#told) return
    this.#told = true
    const says = 'the process of the driver did not obey and was ended'
    this.#course.event({ kind: 'silenced', t: this.#course.now, says })
  }
}
