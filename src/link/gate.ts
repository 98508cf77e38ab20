/**
 * The last gate before the bus: every setpoint of a cycle is checked for finiteness, age of the feedback it rests on,
 * position, speed (the rig's speed cap included), acceleration and distance from the measured position. One breach and none of the cycle is sent.
 *
 * That distance is to where the joint may be by then: it was measured a while ago, the setpoint acts at the next SYNC and is reached one period
 * later (60C2h). What the setpoints themselves move it by in that time is no distance from them.
 */
import { GIVEN_TWICE } from '../files/event.js'
import type { Rig } from '../files/rig.js'
import type { ShownUnit } from '../units.js'

export interface Breach {
  readonly joint: number
  readonly quantity: string
  readonly value: number
  readonly limit: number
  readonly unit: ShownUnit
}

/** Periods from the tick that sends a setpoint to the SYNC at which it is reached. */
const AHEAD = 2
/** Rounding in the differences of setpoints must not look like a breach of a limit that was met exactly. */
const ROUNDING = 1 + 1e-6

export class Gate {
  readonly #rig: Rig
  /** rad, setpoints of the last two cycles */
  readonly #last: Float64Array
  readonly #before: Float64Array

  constructor(rig: Rig) {
    this.#rig = rig
    this.#last = new Float64Array(rig.joints.length)
    this.#before = new Float64Array(rig.joints.length)
  }

  /** Joint stands at `position` (rad): the next setpoint is held against rest there. */
  rest(joint: number, position: number): void {
    this.#last[joint] = position
    this.#before[joint] = position
  }

  /** rad, the setpoint that a joint is held at. */
  held(joint: number): number {
    return this.#last[joint]!
  }

  /** rad/s, by the setpoints of the last two cycles. */
  speed(joint: number): number {
    return (this.#last[joint]! - this.#before[joint]!) / this.#rig.control.period
  }

  /**
   * Checks one joint's next setpoint; nothing is remembered until `accept`.
   * @param age s, of the joint's last feedback @param measured rad
   */
  check(joint: number, setpoint: number, age: number, measured: number): Breach | null {
    const { limits } = this.#rig.joints[joint]!
    const { period } = this.#rig.control
    const most = limits.speed * this.#rig.motion.speedCap
    const breach = (quantity: string, value: number, limit: number, unit: ShownUnit): Breach => ({
      joint,
      quantity,
      value,
      limit,
      unit,
    })
    if (!Number.isFinite(setpoint)) return breach('setpoint is no finite number', Number.NaN, 0, 'rad')
    if (!(age <= this.#rig.link.staleAfter))
      return breach('age of the feedback', age, this.#rig.link.staleAfter, 's')
    if (setpoint > limits.upper) return breach('setpoint position', setpoint, limits.upper, 'rad')
    if (setpoint < limits.lower) return breach('setpoint position', setpoint, limits.lower, 'rad')
    const last = this.#last[joint]!
    const speed = (setpoint - last) / period
    if (Math.abs(speed) > most * ROUNDING) return breach('setpoint speed', Math.abs(speed), most, 'rad/s')
    const acceleration = (setpoint - 2 * last + this.#before[joint]!) / (period * period)
    if (Math.abs(acceleration) > limits.acceleration * ROUNDING) {
      const name = setpoint === last ? GIVEN_TWICE : 'setpoint acceleration'
      return breach(name, Math.abs(acceleration), limits.acceleration, 'rad/s2')
    }
    const step = distance(setpoint, measured, measured + speed * (age + AHEAD * period))
    if (step > this.#rig.link.window)
      return breach('setpoint away from the joint', step, this.#rig.link.window, 'rad')
    return null
  }

  accept(joint: number, setpoint: number): void {
    this.#before[joint] = this.#last[joint]!
    this.#last[joint] = setpoint
  }
}

/** Of x from the stretch between a and b. */
function distance(x: number, a: number, b: number): number {
  return Math.max(0, Math.min(a, b) - x, x - Math.max(a, b))
}
