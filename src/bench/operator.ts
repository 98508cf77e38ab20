/** What happens in a run because its scenario says so: faults, the operator's actions, commands. */
import { FAULTS, type Fault, faultPlace } from '../files/faults/catalogue.js'
import type { AfterMotion } from './after-motion.js'
import type { BoxContact } from './box-contact.js'
import type { Course } from './course.js'
import type { BenchParts } from './parts.js'
import type { Script } from './script.js'
import type { Stops } from './stops.js'

export class Operator {
  readonly #p: BenchParts
  readonly #course: Course
  readonly #stops: Stops
  readonly #box: BoxContact
  readonly #script: Script
  readonly #after: AfterMotion
  /** Nobody is left who could lead the arms. */
  readonly #leaderless: () => boolean

  constructor(
    parts: BenchParts,
    course: Course,
    stops: Stops,
    box: BoxContact,
    script: Script,
    after: AfterMotion,
    leaderless: () => boolean,
  ) {
    this.#p = parts
    this.#course = course
    this.#stops = stops
    this.#box = box
    this.#script = script
    this.#after = after
    this.#leaderless = leaderless
  }

  /** What goes wrong before anything has been sent. */
  beforeAll(): void {
    this.#fail(Number.NEGATIVE_INFINITY)
  }

  /** All that is due. */
  act(): void {
    const s = this.#script.time
    if (s === null) return
    this.#fail(s)
    for (const { action } of this.#script.actions(s)) this.#operate(action)
    this.#script.heed(s, this.#stops.mayMove)
  }

  #fail(s: number): void {
    const { rig } = this.#p
    for (const { fault, begins } of this.#script.faults(s)) {
      // What a bus says of it comes after it.
      const place = faultPlace(fault, rig)
      this.#course.event({ kind: 'fault', t: this.#course.now, fault: fault.fault, place, begins })
      this.#bring(fault, begins)
    }
  }

  #bring(fault: Fault, begins: boolean): void {
    const { plant, standIn, busFaults, driverFaults, clockFaults } = this.#p
    switch (FAULTS[fault.fault].target) {
      case 'joint':
      case 'arm':
        ;(plant ?? standIn)?.fault(fault, begins)
        return
      case 'bus':
        busFaults?.fault(fault, begins)
        return
      case 'driver':
        driverFaults?.fault(fault, begins)
        return
      case 'clock':
        clockFaults?.fault(fault, begins)
        return
    }
  }

  #operate(action: 'stop' | 'release' | 'reset' | 'start'): void {
    const course = this.#course
    const t = course.now
    course.event({ kind: 'operator', t, action })
    if (action === 'stop') {
      this.#stops.latch('operator', '', 'the operator asked for a stop')
      return
    }
    const early =
      (action === 'start' && (course.stage !== 'stopped' || this.#leaderless())) ||
      (action === 'release' && this.#box.open)
    if (early || !this.#stops.lift(action)) {
      course.event({ kind: 'refused', t, what: action })
      return
    }
    if (action === 'release' || action === 'reset') course.event({ kind: action, t })
    else if (this.#stops.held.on) this.#after.letGo(t, 'start')
    else this.#after.startAnew(t)
  }
}
