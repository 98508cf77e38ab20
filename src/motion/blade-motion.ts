/** Where one arm's blade is and what its joints do to it: kinematics (chain.ts), and the Jacobian at one place; allocation-free. */
import type { Arm, Joint } from '../files/rig.js'
import { Chain } from './chain.js'

/** Numbers of a velocity, an acceleration or a wrench of the blade, craft frame: along x, y, z, then about them. */
export const SPATIAL = 6

export class BladeMotion {
  readonly n: number
  readonly chain: Chain
  /** J of the last `place`: 6 x n, as `Chain.jacobian` has it */
  readonly jacobian: Float64Array

  /** @param own the arm's joints, from base to tip */
  constructor(arm: Arm, own: readonly Joint[]) {
    this.n = own.length
    this.chain = new Chain(arm, own)
    this.jacobian = new Float64Array(SPATIAL * own.length)
  }

  /** Works out `chain.blade` and `jacobian`. @param q rad, n */
  place(q: Float64Array): void {
    this.chain.forward(q)
    this.chain.jacobian(this.jacobian)
  }

  /**
   * Adds J x of the last `place`: what joints do to the blade.
   * @param x one a joint: speeds, accelerations or small turns @param out six numbers: the same of the blade's centre
   */
  addOfBlade(x: Float64Array, out: Float64Array): void {
    const { n, jacobian } = this
    for (let r = 0; r < SPATIAL; r++) {
      let sum = 0
      for (let i = 0; i < n; i++) sum += jacobian[r * n + i]! * x[i]!
      out[r]! += sum
    }
  }

  /**
   * Row i of J^T w at the last `place`: what a wrench on the blade does to joint i.
   * @param wrench six numbers: N and N m about the blade's centre, craft frame @returns N m
   */
  ofJoint(i: number, wrench: Float64Array): number {
    const { n, jacobian } = this
    let sum = 0
    for (let r = 0; r < SPATIAL; r++) sum += jacobian[r * n + i]! * wrench[r]!
    return sum
  }
}
