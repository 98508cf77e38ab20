/** The contact of the emergency-stop box, as the run heeds it: open or unread means stop, and closing it moves nothing. */
import type { Contact } from '../files/event.js'
import type { Rig } from '../files/rig.js'
import type { Course } from './course.js'
import type { Stops } from './stops.js'

export class BoxContact {
  readonly #boxed: boolean
  readonly #place: string
  readonly #course: Course
  readonly #stops: Stops
  /** As last told. */
  #contact: Contact = 'lost'

  /** @param boxed false: simulated arms, which need none */
  constructor(boxed: boolean, { stopBox }: Rig, course: Course, stops: Stops) {
    this.#boxed = boxed
    this.#place = stopBox?.device ?? ''
    this.#course = course
    this.#stops = stops
  }

  /** Not closed. */
  get open(): boolean {
    return this.#boxed && this.#contact !== 'closed'
  }

  onContact(contact: Contact): void {
    const course = this.#course
    if (course.ended) return
    this.#contact = contact
    // Before anything is enabled it may still settle; the start-up looks at it then.
    if (course.stage !== null && course.stage !== 'setup') this.heed()
    course.event({ kind: 'contact', t: course.now, place: this.#place, contact })
  }

  /** @returns the box is not closed, and the run is stopped */
  heed(): boolean {
    if (!this.open) return false
    const says =
      this.#contact === 'open'
        ? 'the emergency-stop box is open: pressed, or unplugged'
        : 'the emergency-stop box cannot be read'
    this.#stops.latch('box', this.#place, says)
    return true
  }
}
