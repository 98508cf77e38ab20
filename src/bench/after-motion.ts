/** The stages after motion: a stop until it is watched to its end, the torque off, the arms at rest. */
import type { Nanos } from '../clock.js'
import type { EndReason } from '../files/event.js'
import type { Rig } from '../files/rig.js'
import type { Scenario } from '../files/scenario.js'
import type { JointLink } from '../link/link.js'
import type { Course } from './course.js'
import type { Script } from './script.js'
import type { Sending } from './sending.js'
import { DISABLE_WITHIN } from './stop-proof.js'
import type { Stops } from './stops.js'

/** A shutdown that had no effect yet is sent again. */
const REPEAT_AFTER: Nanos = 20e6
/** s that a driver which owns the bus may go on enabling drives until the run is given up as it is. */
const ENABLED_ANEW_WITHIN = 30
/** s beyond the stop time-out after which a stop is looked at as it is, still or not. */
const STOP_WITHIN = 3

export interface AfterMotionParts {
  readonly rig: Rig
  readonly scenario: Scenario
  readonly link: JointLink
  readonly course: Course
  readonly stops: Stops
  readonly sending: Sending
  readonly script: Script
  readonly before: { beginAnew(t: Nanos): void }
}

export class AfterMotion {
  readonly #p: AfterMotionParts
  #shutDownAt: Nanos = 0
  /** What the stage `disable` leads to: a new start, or `rest` and the end. */
  #startsAfter = false
  #endsAs: EndReason = 'completed'

  constructor(parts: AfterMotionParts) {
    this.#p = parts
  }

  startAnew(t: Nanos): void {
    this.#startsAfter = false
    this.#p.before.beginAnew(t)
  }

  /** Arms that are held lose their torque before anything else happens, as at the end of a run. */
  letGo(t: Nanos, next: EndReason | 'start'): void {
    this.#startsAfter = next === 'start'
    if (next !== 'start') this.#endsAs = next
    this.beginDisable(t)
  }

  /** The torque goes, at the end of a run. */
  beginDisable(t: Nanos): void {
    this.#p.course.enter('disable')
    this.#shutDown(t)
  }

  /** The stage `disable`. */
  disable(t: Nanos): void {
    this.#p.sending.shadow(t)
    if (this.#p.course.stage === 'disable') this.#waitForOff(t)
  }

  rest(t: Nanos): void {
    if (this.#p.course.inStage(t) >= this.#p.rig.stop.sagWindow) this.#end(this.#endsAs)
  }

  /** The stages `stopping` and `stopped`. */
  stopped(t: Nanos, cyclic: boolean): void {
    if (this.#p.stops.held.on) this.#hold(t)
    else this.#standStill(t, cyclic)
  }

  #shutDown(t: Nanos): void {
    this.#shutDownAt = t
    // Where the driver owns the bus it is told to, and has half of the time for it.
    const { rig, link, course, sending } = this.#p
    if (rig.buses.every(({ owner }) => owner === 'harness')) sending.heed(link.control('shutdown'))
    else if (course.inStage(t) > DISABLE_WITHIN / 2) sending.heed(link.control('disable voltage'))
  }

  #waitForOff(t: Nanos): void {
    const { link, course, stops } = this.#p
    const on = link.drives.find((d) => !d.offSince(course.since))
    if (!on && this.#startsAfter) this.startAnew(t)
    else if (!on) course.enter('rest')
    else if (course.inStage(t) > DISABLE_WITHIN) {
      const says = `the drive did not leave operation enabled within ${DISABLE_WITHIN} s`
      stops.latch('drive', on.joint.name, says)
    } else if (t - this.#shutDownAt > REPEAT_AFTER) this.#shutDown(t)
  }

  #standStill(t: Nanos, cyclic: boolean): void {
    const { rig, link, course, stops } = this.#p
    // Before cycles run no feedback comes by itself: drives that were never enabled are asked whether they are off.
    if (!cyclic) link.inquire(t)
    stops.sequence.tick(t)
    course.tell(stops.sequence.notices)
    if (course.stage === 'stopping') {
      if (stops.sequence.still(t) || course.inStage(t) > rig.stop.timeout + STOP_WITHIN)
        course.enter('stopped')
      return
    }
    const reason = this.#overAfterStop(t)
    if (reason) this.#end(reason)
  }

  #hold(t: Nanos): void {
    const { course, stops, sending } = this.#p
    const givenUp = stops.held.step(t, sending.setpoints)
    if (givenUp) {
      stops.latch('stop', givenUp.place, `the held stop was given up: ${givenUp.says}`)
      return
    }
    sending.send(t)
    if (!stops.held.on) return
    if (course.stage === 'stopping') {
      if (stops.held.still) course.enter('stopped')
      return
    }
    const reason = this.#overAfterStop(t)
    if (reason) this.letGo(t, reason)
  }

  /** Why the run is over once a stop has been watched to its end, or null: it goes on. */
  #overAfterStop(t: Nanos): EndReason | null {
    const { rig, scenario, link, course, stops, script } = this.#p
    if (course.inStage(t) < rig.stop.sagWindow) return null
    // Whoever enables them again is not left alone with them at once.
    const on = link.listening && !link.drives.every((d) => d.offSince(course.since))
    if (on && course.inStage(t) < rig.stop.sagWindow + ENABLED_ANEW_WITHIN) return null
    if (stops.outside === 'signal' || stops.outside === 'parent') return 'signal'
    if (stops.outside !== null) return 'operator'
    if (scenario.expect.outcome !== 'stop' || script.time === null) return 'stopped'
    // A stop that the scenario wants is watched to the scenario's end: nothing may move any more.
    return script.over ? 'completed' : null
  }

  #end(reason: EndReason): void {
    this.#p.link.network('pre-operational')
    this.#p.course.end(reason)
  }
}
