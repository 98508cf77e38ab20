/**
 * The simulated arms' craft on its water: arms move the blades, blades push the craft, and the craft carries the blades along.
 * On the grid of the joints: each arm's blade has the force of its speed through the water, the craft's own included; both blades'
 * forces move the craft in surge, sway and yaw over the step.
 *
 * Not modelled: that arms which swing to and fro shove the craft about (its mass holds theirs, at rest in it), and that they stand on a
 * base which accelerates; waves, wind and current; heave, roll and pitch, so that the water stays where the rig has it; joints
 * without power, which are left to brake and sag as on dry land; and what blade-force.ts, craft-motion.ts and afloat-arm.ts leave out.
 */
import { type Nanos, NS_PER_S } from '../clock.js'
import { DrystrokeError } from '../errors.js'
import type { Rig } from '../files/rig.js'
import type { CraftMotion } from '../motion/water/craft-motion.js'
import { waterOf } from '../motion/water/properties.js'
import { craftMotionOf } from '../motion/water/rig-craft.js'
import { AfloatArm } from './afloat-arm.js'
import { GRID } from './joint.js'
import type { CoupledJoint, Mechanism } from './mechanism.js'

const STEP = GRID / NS_PER_S

export type AfloatRig = Pick<Rig, 'craft' | 'water' | 'hull' | 'arms' | 'joints'>

export class Afloat implements Mechanism {
  readonly craft: CraftMotion
  readonly #arms: AfloatArm[] = []
  readonly #joints: CoupledJoint[] = []
  readonly #rig: AfloatRig
  readonly #water
  readonly #speed = new Float64Array(3)
  readonly #current = new Float64Array(2)
  #grid: Nanos = 0

  /**
   * @param rig that has been found to say all that a craft afloat needs (files/afloat-complaints.ts)
   * @throws DrystrokeError `defect` for one that does not
   */
  constructor(rig: AfloatRig) {
    const { craft, water, hull } = rig
    if (water === null || hull === null || rig.joints.some((joint) => joint.body === null))
      throw new DrystrokeError(
        'defect',
        'a rig without water, hull or the bodies of its joints is played afloat',
      )
    this.#rig = rig
    this.#water = waterOf(water)
    this.craft = craftMotionOf(craft, hull, this.#water, STEP)
  }

  join(index: number, joint: CoupledJoint): void {
    this.#joints[index] = joint
    for (const arm of this.#rig.arms) {
      if (arm.joints.at(-1) !== index) continue
      const own = arm.joints.map((i) => this.#joints[i]!)
      this.#arms.push(new AfloatArm(this.#rig, arm, own, this.#water, STEP))
    }
  }

  advance(t: Nanos): void {
    const points = Math.floor((t - this.#grid) / GRID)
    if (points <= 0) return
    if (this.#asleep()) {
      this.#grid += points * GRID
      for (const joint of this.#joints) joint.sleep(this.#grid)
      return
    }
    for (let k = 0; k < points; k++) this.#step()
    this.#grid += points * GRID
  }

  /** N and N m about the blade's centre, craft frame: the water on an arm's blade over the last step. */
  load(arm: number): Float64Array {
    return this.#arms[arm]!.load
  }

  #step(): void {
    this.craft.overGround(this.#speed)
    this.craft.currentHere(this.#current)
    for (let i = 0; i < this.#arms.length; i++) {
      const arm = this.#arms[i]!
      arm.advance(this.#speed, this.#current)
      this.craft.pull(arm.load, arm.x, arm.y)
    }
    this.craft.step()
  }

  /** All joints are held, and the craft lies still, as it does before the first motion. */
  #asleep(): boolean {
    if (this.craft.energy !== 0) return false
    for (let i = 0; i < this.#joints.length; i++) if (!this.#joints[i]!.asleep) return false
    return true
  }
}
