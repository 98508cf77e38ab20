/**
 * Does an arm's driver stand still while its side is asked to move? By the side speed that a driver which keeps the rig's acceleration and
 * jerk would have come to: the way that it makes while no setpoint of the arm changes is way that the blade does not make.
 */
import type { Arm, Rig } from '../files/rig.js'
import { portSpeed, starboardSpeed } from '../motion/side-speeds.js'
import { Slew } from '../motion/slew.js'

export class SetpointRest {
  /** m, present and greatest way that was asked for while all setpoints stood */
  way = 0
  mostWay = 0
  readonly #rig: Rig
  readonly #side: typeof portSpeed
  readonly #follower: Slew
  #wanted = 0
  #withheld = false
  #changed = false

  constructor(rig: Rig, arm: Arm) {
    this.#rig = rig
    this.#side = arm.side === 'port' ? portSpeed : starboardSpeed
    this.#follower = new Slew(rig.driver.acceleration, rig.driver.jerk, rig.control.period)
  }

  /** At rest: the driver begins from its park pose. */
  reset(): void {
    this.#follower.reset(0)
    this.#wanted = 0
    this.#withheld = false
    this.way = 0
  }

  command(surge: number, yaw: number): void {
    this.#wanted = this.#side(surge, yaw, this.#rig.craft.track)
  }

  /** Commands do not reach the driver: it is to come to rest. Or they do again. */
  withhold(begins: boolean): void {
    this.#withheld = begins
  }

  /** A setpoint of the arm is another one than before. */
  change(): void {
    this.#changed = true
  }

  /** One control period. */
  tick(): void {
    const { period } = this.#rig.control
    const wanted = this.#withheld ? 0 : this.#wanted
    this.#follower.step(wanted)
    // The setpoints of this tick went out before it.
    this.way = this.#changed || wanted === 0 ? 0 : this.way + Math.abs(this.#follower.value) * period
    if (this.way > this.mostWay) this.mostWay = this.way
    this.#changed = false
  }
}
