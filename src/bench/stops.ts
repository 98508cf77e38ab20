/**
 * How a run is stopped, whoever asks: the latch, the emergency stop and the held stop. Nothing, not even the record of it, comes
 * before the frames of a stop.
 */
import type { BenchEvent, EmergencyCategory, OutsideSource, OutsideStop } from '../files/event.js'
import type { Rig } from '../files/rig.js'
import type { JointLink } from '../link/link.js'
import { HeldStop } from '../stop/held.js'
import { type LatchInput, type LatchState, latch, mayMove } from '../stop/latch.js'
import { StopSequence } from '../stop/sequence.js'
import type { Course } from './course.js'
import type { LoggedBuses } from './logged-buses.js'

export class Stops {
  readonly sequence: StopSequence
  readonly held: HeldStop
  readonly #rig: Rig
  readonly #link: JointLink
  readonly #buses: LoggedBuses
  readonly #course: Course
  #latch: LatchState = 'free'
  #outside: OutsideSource | null = null

  constructor(rig: Rig, link: JointLink, buses: LoggedBuses, course: Course) {
    this.#rig = rig
    this.#link = link
    this.#buses = buses
    this.#course = course
    this.sequence = new StopSequence(rig, link)
    this.held = new HeldStop(rig, link)
  }

  /** Nothing is latched. */
  get mayMove(): boolean {
    return mayMove(this.#latch)
  }

  /** Who outside the scenario wants the arms stopped, null: nobody. The run ends with the stop. */
  get outside(): OutsideSource | null {
    return this.#outside
  }

  /**
   * Whoever asks: an emergency stop is category 1, or 0 if the rig says so, and never one that keeps the torque on. Once one is
   * in force another only adds to it.
   */
  latch(
    source: string,
    place: string,
    says: string,
    category: EmergencyCategory = this.#rig.stop.category,
  ): void {
    const course = this.#course
    if (course.ended) return
    const t = course.now
    const escalation: BenchEvent = { kind: 'escalation', t, source, place, category, says }
    const inForce = this.#latch === 'stopped'
    if (inForce && !this.held.on) {
      if (this.sequence.again(category, t)) course.event(escalation)
      return
    }
    this.#latch = 'stopped'
    this.held.end()
    // Frames first, to every bus: nothing, not even the record of it, comes before the stop.
    const withdrawn = this.#buses.logAfter(() => this.sequence.begin(category, t))
    withdrawn.forEach((frames, bus) => {
      if (frames > 0) course.event({ kind: 'withdrawn', t, place: this.#rig.buses[bus]!.name, frames })
    })
    course.event(inForce ? escalation : { kind: 'stop', t, source, place, category, says })
    course.enter('stopping')
  }

  /** A watch asks for a stop that keeps the torque on. Where the arms cannot be held it is an emergency stop. */
  latchHeld(watch: string, place: string, says: string): void {
    const course = this.#course
    if (course.ended || (this.#latch === 'stopped' && this.held.on)) return
    const { stage } = course
    // Arms that the driver leads are not ours to slow by setpoints.
    const moving = !this.#link.listening && (stage === 'approach' || stage === 'play' || stage === 'park')
    if (!moving && !(this.held.on && stage === 'stopped')) {
      this.latch(watch, place, says)
      return
    }
    const t = course.now
    this.#latch = 'stopped'
    this.held.begin(t)
    course.event({ kind: 'stop', t, source: watch, place, category: 2, says })
    course.enter('stopping')
  }

  /**
   * Something outside the scenario wants the arms stopped. The first who asks is told of; for the others it is done already.
   * @param expected it is what the scenario waits for: the run goes on as that says
   */
  latchOutside({ source, says }: OutsideStop, expected: boolean): void {
    if (this.#course.ended || this.#outside !== null) return
    if (!expected) this.#outside = source
    this.latch(source, '', says)
  }

  /** @returns false: refused, such as for a stop that came from outside the scenario, which is not the scenario's to lift */
  lift(action: Exclude<LatchInput, 'stop'>): boolean {
    const next = this.#outside !== null ? null : latch(this.#latch, action)
    if (next === null) return false
    this.#latch = next
    return true
  }

  /** A new start begins: what the last stop asked of the drives is over. */
  clear(): void {
    this.sequence.clear()
    this.held.end()
  }
}
