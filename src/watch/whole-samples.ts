/**
 * Where all arms are at one time: feedback of one SYNC, joint by joint, put together to whole sets of an arm, and those to sets of
 * all arms. An arm that is not heard of rests where it was; the others then move on without it, one set late.
 */
import type { Rig } from '../files/rig.js'
import { JointSets } from './joint-sets.js'

export class WholeSamples {
  /** rad, all joints of the rig: the last set of all arms */
  readonly q: Float64Array
  /** SYNC periods from the set before to this one, of the arm that was missed for longest. */
  gap = 0
  /** By joint: its arm, and its place there. */
  readonly #arm: Int32Array
  readonly #place: Int32Array
  /** By arm. */
  readonly #sets: readonly JointSets[]
  /** rad, by joint: whole sets of arms, not yet of all */
  readonly #whole: Float64Array
  /** By arm: whether a whole set waits, its index, and that of the one before. */
  readonly #waits: Uint8Array
  readonly #wholeIndex: Int32Array
  readonly #toldIndex: Int32Array
  readonly #joints: readonly (readonly number[])[]
  #unknown: number

  constructor({ arms, joints }: Pick<Rig, 'arms' | 'joints'>) {
    this.q = new Float64Array(joints.length)
    this.#arm = Int32Array.from(joints, (j) => j.arm)
    this.#place = Int32Array.from(joints, (j) => arms[j.arm]!.joints.indexOf(j.index))
    this.#sets = arms.map((arm) => new JointSets(arm.joints.length))
    this.#whole = new Float64Array(joints.length)
    this.#waits = new Uint8Array(arms.length)
    this.#wholeIndex = new Int32Array(arms.length)
    this.#toldIndex = new Int32Array(arms.length).fill(-1)
    this.#joints = arms.map((arm) => arm.joints)
    this.#unknown = arms.length
  }

  /** @param position rad @returns true: the arms have moved on to `q` */
  see(joint: number, index: number, position: number): boolean {
    const arm = this.#arm[joint]!
    const sets = this.#sets[arm]!
    if (!sets.put(this.#place[joint]!, index, position)) return false
    let moved = false
    // This arm's set before still waits for others, which must have lost theirs.
    if (this.#waits[arm] === 1) moved = this.#tell()
    for (const j of this.#joints[arm]!) this.#whole[j] = sets.q[this.#place[j]!]!
    this.#wholeIndex[arm] = index
    this.#waits[arm] = 1
    return this.#allWait() ? this.#tell() : moved
  }

  #allWait(): boolean {
    for (let arm = 0; arm < this.#waits.length; arm++) if (this.#waits[arm] === 0) return false
    return true
  }

  #tell(): boolean {
    this.gap = 0
    for (let arm = 0; arm < this.#waits.length; arm++) {
      if (this.#waits[arm] === 0) continue
      this.#waits[arm] = 0
      const before = this.#toldIndex[arm]!
      if (before < 0) this.#unknown--
      const gap = this.#wholeIndex[arm]! - before
      if (gap > this.gap) this.gap = gap
      this.#toldIndex[arm] = this.#wholeIndex[arm]!
      for (const j of this.#joints[arm]!) this.q[j] = this.#whole[j]!
    }
    return this.#unknown === 0
  }
}
