/** What a driver's setpoints take of the drives on the rig's own water, if they are followed exactly and every arm is as the rig says. */
import type { Rig } from '../../src/files/rig.js'
import { ArmTorques } from '../../src/motion/arm-torques.js'
import { isWeighed } from '../../src/motion/laden-arm.js'
import { torqueLimit } from '../../src/motion/torque-limit.js'
import type { CraftMotion } from '../../src/motion/water/craft-motion.js'
import { waterOf } from '../../src/motion/water/properties.js'
import { craftMotionOf } from '../../src/motion/water/rig-craft.js'

export class AfloatTorque {
  readonly #rig: Rig
  readonly #craft: CraftMotion
  readonly #arms: readonly ArmTorques[]
  readonly #speed = new Float64Array(3)
  readonly #current = new Float64Array(2)

  /** @param rig that says all that a craft afloat needs */
  constructor(rig: Rig) {
    const water = waterOf(rig.water!)
    this.#rig = rig
    this.#craft = craftMotionOf(rig.craft, rig.hull!, water, rig.control.period)
    this.#arms = rig.arms.map((arm) => {
      const own = arm.joints.map((j) => rig.joints[j]!).filter(isWeighed)
      return new ArmTorques(rig.craft, arm, own, new Float64Array(own.length), water)
    })
  }

  /**
   * One control period; the blades push the craft.
   * @param now rad, of all joints @param last @param before the setpoints of the periods before
   * @returns the greatest share of what a drive may give
   */
  step(now: Float64Array, last: Float64Array, before: Float64Array): number {
    const { arms, joints, control } = this.#rig
    let most = 0
    this.#craft.overGround(this.#speed)
    this.#craft.currentHere(this.#current)
    this.#arms.forEach((torques, a) => {
      const own = arms[a]!.joints
      torques.at(
        Float64Array.from(own, (j) => last[j]!),
        Float64Array.from(own, (j) => (now[j]! - before[j]!) / (2 * control.period)),
        Float64Array.from(own, (j) => (now[j]! - 2 * last[j]! + before[j]!) / control.period ** 2),
      )
      torques.wet(this.#speed, this.#current)
      own.forEach((j, i) => {
        most = Math.max(most, Math.abs(torques.afloat[i]!) / torqueLimit(this.#rig, joints[j]!))
      })
      const [x, y] = [torques.blade[9]!, torques.blade[10]!]
      this.#craft.pull(torques.wrench, x, y)
    })
    this.#craft.step()
    return most
  }
}
