/** What a simulated drive can report of itself: temperature, voltage, current. */
import type { Nanos } from '../clock.js'
import type { Joint, Reported } from '../files/rig.js'
import type { JointMotion } from './joint.js'
import type { Supply } from './supply.js'
import { Winding } from './winding.js'

/** A of the motor at the joint's continuous torque. Invented. */
const RATED_CURRENT = 5

export class DriveHealth {
  /** Part of the supply's voltage that comes to this drive; a fault loses the rest on the way. */
  fed = 1
  readonly winding: Winding
  readonly supply: Supply
  readonly #motion: JointMotion
  readonly #continuous: number

  constructor(joint: Pick<Joint, 'rating' | 'limits'>, ambient: number, motion: JointMotion, supply: Supply) {
    this.winding = new Winding(joint, ambient)
    this.supply = supply
    this.#motion = motion
    this.#continuous = joint.rating?.continuous ?? joint.limits.torque
    supply.feeds(motion)
  }

  /** degC, V or A */
  now(what: Reported, t: Nanos): number {
    if (what === 'voltage') return this.fed * this.supply.at(t)
    const torque = this.#motion.torque(t)
    return what === 'temperature'
      ? this.winding.temperature(torque, t)
      : (RATED_CURRENT * torque) / this.#continuous
  }
}
