/** One arm's blade as its feedback shows it: forward kinematics of sets that belong to one SYNC. */
import type { Arm, Rig } from '../files/rig.js'
import { BladePlace } from '../motion/blade-place.js'
import { Chain } from '../motion/chain.js'
import { JointSets } from './joint-sets.js'

export class BladeView {
  readonly sets: JointSets
  /** As `look` found it. */
  readonly blade: BladePlace
  readonly #chain: Chain

  constructor(rig: Pick<Rig, 'craft' | 'joints'>, arm: Arm) {
    this.#chain = new Chain(
      arm,
      arm.joints.map((j) => rig.joints[j]!),
    )
    this.blade = new BladePlace(rig, arm, this.#chain.blade)
    this.sets = new JointSets(arm.joints.length)
  }

  /** @param place of the joint in the arm @param position rad @returns true: all joints of the arm have told of this SYNC */
  feedback(place: number, index: number, position: number): boolean {
    return this.sets.put(place, index, position)
  }

  /** @param q rad, the arm's joints; the last whole set */
  look(q: Float64Array = this.sets.q): BladePlace {
    this.#chain.forward(q)
    return this.blade
  }
}
