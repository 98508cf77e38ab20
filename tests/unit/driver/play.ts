/** Plays commands to the reference driver and keeps what it asks of the joints. */

import { ReferenceDriver } from '../../../src/driver/reference.js'
import { readRigFile } from '../../../src/files/load.js'
import type { Rig, StrokeSettings } from '../../../src/files/rig.js'
import type { Command } from '../../../src/files/scenario.js'

export const DEMO = readRigFile('rigs/reservoir-skiff.yaml', {})

export function withStroke(rig: Rig, stroke: Partial<StrokeSettings>): Rig {
  return { ...rig, stroke: { ...rig.stroke, ...stroke } }
}

export class Player {
  readonly driver: ReferenceDriver
  /** rad, the last setpoints */
  readonly setpoints: Float64Array
  /** Greatest share so far of any joint's speed and acceleration limit, setpoint to setpoint, and whose it was. */
  speedShare = 0
  accelerationShare = 0
  worst = ''
  readonly rig: Rig
  readonly #last: Float64Array
  readonly #before: Float64Array

  constructor(rig: Rig) {
    this.rig = rig
    this.driver = new ReferenceDriver(rig)
    this.setpoints = this.driver.parkPose.slice()
    this.#last = this.setpoints.slice()
    this.#before = this.setpoints.slice()
  }

  step(command: Command): void {
    const { period } = this.rig.control
    this.#before.set(this.#last)
    this.#last.set(this.setpoints)
    this.driver.step(command, this.setpoints)
    for (const { index, name, limits } of this.rig.joints) {
      const [x, y, z] = [this.setpoints[index]!, this.#last[index]!, this.#before[index]!]
      const speed = Math.abs(x - y) / period / limits.speed
      const acceleration = Math.abs(x - 2 * y + z) / period ** 2 / limits.acceleration
      this.speedShare = Math.max(this.speedShare, speed)
      if (acceleration > this.accelerationShare) {
        this.accelerationShare = acceleration
        this.worst = `${name} at phase ${this.driver.sides[this.rig.arms[this.rig.joints[index]!.arm]!.side].phase.toFixed(3)}`
      }
    }
  }

  /** @param seconds of control periods; @param see called after each */
  play(command: Command, seconds: number, see?: () => void): void {
    const count = Math.round(seconds / this.rig.control.period)
    for (let k = 0; k < count; k++) {
      this.step(command)
      see?.()
    }
  }
}

/** Surge (m/s) and yaw rate (rad/s). */
export function go(surge: number, yaw = 0): Command {
  return { surge, yaw }
}
