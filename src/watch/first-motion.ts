/**
 * How long an arm at rest waits before its setpoints change, once its side is asked to: from when a driver that keeps the rig's acceleration
 * and jerk would move its blade visibly, so that a slow start is no delay.
 *
 * At rest: no setpoint of the arm has changed for a while. A driver that is just parking its blade is not, and may end that first.
 */
import type { Arm, Rig } from '../files/rig.js'
import { SideDemand } from './side-demand.js'

/** s without another setpoint */
const AT_REST = 0.2
/** m, a blade's distance from its joints: joints that are still leave it slower than this times their speed. About an arm's length. */
const LEVER = 1

export class FirstMotion {
  /** s for which the arm is behind; 0: it is not, or nothing is asked of it */
  late = 0
  /** s, the most of all times that it came from rest */
  most = 0
  readonly #demand: SideDemand
  readonly #period: number
  /** m/s */
  readonly #visible: number
  #rested = AT_REST
  #waits = false
  #moved = false

  constructor(rig: Rig, arm: Arm) {
    this.#demand = new SideDemand(rig, arm.side)
    this.#period = rig.control.period
    this.#visible = LEVER * rig.stop.still.speed
  }

  /** At rest: the driver begins from its park pose, or has nothing to say. */
  reset(): void {
    this.#demand.rest()
    this.#rested = AT_REST
    this.#waits = false
    this.late = 0
  }

  command(surge: number, yaw: number): void {
    const before = this.#demand.wanted
    this.#demand.command(surge, yaw)
    const { wanted } = this.#demand
    if (wanted === 0) this.#waits = false
    else if (before === 0) this.#waits = this.#rested >= AT_REST
    if (!this.#waits) this.late = 0
  }

  /** A setpoint of the arm is another than before. */
  moves(): void {
    this.#moved = true
  }

  /** One control period, the setpoints of which have been told. */
  tick(): void {
    this.#demand.sync()
    this.#rested = this.#moved ? 0 : this.#rested + this.#period
    if (this.#moved) {
      this.#waits = false
      this.late = 0
    }
    this.#moved = false
    if (!this.#waits || Math.abs(this.#demand.sure) < this.#visible) return
    this.late += this.#period
    if (this.late > this.most) this.most = this.late
  }
}
