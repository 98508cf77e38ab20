/** Setpoints on their way to the joints, and what becomes of a run when the gate or a bus does not let them through. */
import type { Nanos } from '../clock.js'
import { GIVEN_TWICE } from '../files/event.js'
import type { Rig } from '../files/rig.js'
import type { Cycle, JointLink, NotSent } from '../link/link.js'
import type { Course } from './course.js'
import type { Stops } from './stops.js'

/** Cycles in a row whose setpoints a bus may drop before the run is stopped. */
const DROPS = 3

export class Sending {
  /** rad; whoever leads the arms writes the next ones here. */
  readonly setpoints: Float64Array
  readonly #rig: Rig
  readonly #link: JointLink
  readonly #course: Course
  readonly #stops: Stops
  readonly #drops: number[]
  #moving = false

  constructor(rig: Rig, link: JointLink, course: Course, stops: Stops) {
    this.#rig = rig
    this.#link = link
    this.#course = course
    this.#stops = stops
    this.setpoints = new Float64Array(rig.joints.length)
    this.#drops = rig.buses.map(() => 0)
  }

  /** Setpoints of ours, and not those that follow the arms, were given in this tick. */
  get moving(): boolean {
    return this.#moving
  }

  beginTick(): void {
    this.#moving = false
  }

  send(t: Nanos): void {
    this.#moving = true
    this.#after(this.#link.cycle(t, this.setpoints))
  }

  /** Setpoints that follow the arms where they are. */
  shadow(t: Nanos): void {
    this.#after(this.#link.shadow(t))
  }

  /** What a bus does not take is a stop. */
  heed(notSent: readonly NotSent[]): void {
    for (const { bus, reason } of notSent) {
      this.#stops.latch('bus', this.#rig.buses[bus]!.name, `the bus refused a frame: ${reason}`)
    }
  }

  /** What the gate or the buses did not let through. */
  #after({ breach, dropped, notSent }: Cycle): void {
    if (breach) {
      const { joint, quantity, value, limit, unit } = breach
      const { name: place, wire } = this.#rig.joints[joint]!
      const jump =
        quantity === 'setpoint speed' || quantity === 'setpoint acceleration' || quantity === GIVEN_TWICE
      if (jump && this.#drops[wire.bus]! > 0) {
        // The step from the last setpoint that was sent is too long because one in between was not.
        const says = 'the bus did not send the setpoints of the last cycle in time'
        this.#stops.latch('bus', this.#rig.buses[wire.bus]!.name, says)
        return
      }
      this.#stops.latch('gate', place, `the last gate held back a setpoint: ${quantity}`)
      this.#course.event({ kind: 'gate', t: this.#course.now, place, quantity, value, limit, unit })
      return
    }
    this.heed(notSent)
    for (let bus = 0; bus < this.#drops.length; bus++) {
      this.#drops[bus] = dropped.includes(bus) ? this.#drops[bus]! + 1 : 0
      if (this.#drops[bus]! > DROPS) {
        const says = `the bus did not send the setpoints of ${DROPS} cycles in time`
        this.#stops.latch('bus', this.#rig.buses[bus]!.name, says)
      }
    }
  }
}
