/**
 * Does an arm's driver stand still while its side is asked to move? By the side speed that any driver which keeps the rig's acceleration and
 * jerk must have come to, one too that parks its blade before it heeds a command: the way that it makes while no setpoint of the arm changes
 * is way that the blade does not make. The same of each joint alone: where an arm has no joint to spare, none of them stands through a
 * whole stroke.
 */
import type { Arm, Rig } from '../files/rig.js'
import { SideDemand } from './side-demand.js'

export class SetpointRest {
  /** m, present and greatest way that was asked for while all setpoints stood */
  way = 0
  mostWay = 0
  /** m, [place in the arm] the same of each joint whose arm moves */
  readonly alone: Float64Array
  readonly #demand: SideDemand
  readonly #period: number
  #surge = 0
  #yaw = 0
  #withheld = false
  #changed = false
  readonly #changedAlone: Uint8Array

  constructor(rig: Rig, arm: Arm) {
    this.#demand = new SideDemand(rig, arm.side)
    this.#period = rig.control.period
    this.alone = new Float64Array(arm.joints.length)
    this.#changedAlone = new Uint8Array(arm.joints.length)
  }

  /** At rest: the driver begins from its park pose. */
  reset(): void {
    this.#demand.rest()
    this.#surge = this.#yaw = 0
    this.#withheld = false
    this.way = 0
    this.alone.fill(0)
  }

  command(surge: number, yaw: number): void {
    this.#surge = surge
    this.#yaw = yaw
    this.#ask()
  }

  /** Commands do not reach the driver: it is to come to rest. Or they do again. */
  withhold(begins: boolean): void {
    this.#withheld = begins
    this.#ask()
  }

  /** A setpoint of the arm is another one than before. @param place of the joint in the arm */
  change(place: number): void {
    this.#changed = true
    this.#changedAlone[place] = 1
  }

  /** One control period. */
  tick(): void {
    const demand = this.#demand
    demand.sync()
    const step = Math.abs(demand.sure) * this.#period
    const asked = demand.wanted !== 0
    // The setpoints of this tick went out before it.
    this.way = this.#changed || !asked ? 0 : this.way + step
    if (this.way > this.mostWay) this.mostWay = this.way
    for (let i = 0; i < this.alone.length; i++) {
      if (this.#changedAlone[i] === 1 || !asked) this.alone[i] = 0
      else if (this.#changed) this.alone[i] = this.alone[i]! + step
      this.#changedAlone[i] = 0
    }
    this.#changed = false
  }

  #ask(): void {
    if (this.#withheld) this.#demand.command(0, 0)
    else this.#demand.command(this.#surge, this.#yaw)
  }
}
