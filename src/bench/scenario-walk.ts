/** A scenario's commands through the reference driver, setpoint by setpoint: nothing runs. */
import { ReferenceDriver } from '../driver/reference.js'
import type { Rig } from '../files/rig.js'
import type { Scenario } from '../files/scenario.js'
import { Player } from './player.js'

/** s: no blade takes so long to its park place. */
const MOST_PARKING = 60
/**
 * s between two looks, in whole control periods. A joint that is taken to move evenly in between is off by a t^2 / 8 at most: a third of a
 * milliradian at 26 rad/s2.
 */
const LOOK = 0.01

/** Whoever follows the setpoints. */
export interface Look {
  /** @param q rad, all joints; the same array each time @param t s, from the park pose at 0 on */
  see(q: Float64Array, t: number): void
}

export class ScenarioWalk {
  readonly driver: ReferenceDriver
  /** s between two looks */
  readonly period: number

  /** @throws DrystrokeError as `ReferenceDriver` */
  constructor(rig: Rig) {
    this.period = rig.control.period * Math.max(1, Math.round(LOOK / rig.control.period))
    const { period } = this
    // The driver's motion does not depend on how often it is asked, but for the rounding of its integration.
    this.driver = new ReferenceDriver({ ...rig, control: { rate: 1 / period, period } })
  }

  /**
   * From the park pose through the commands to the park pose again; faults and operator stops are left out.
   * @throws DrystrokeError `unreachable`
   */
  walk(scenario: Scenario, looks: readonly Look[]): void {
    const { driver, period } = this
    const player = new Player(scenario)
    const q = driver.parkPose.slice()
    driver.begin()
    for (const look of looks) look.see(q, 0)
    for (let k = 1; ; k++) {
      const s = (k - 1) * period
      const over = player.over(s)
      if (over && (driver.parked || s > scenario.duration + MOST_PARKING)) return
      driver.step(over ? { surge: 0, yaw: 0 } : player.command(s), q)
      for (const look of looks) look.see(q, k * period)
    }
  }
}
