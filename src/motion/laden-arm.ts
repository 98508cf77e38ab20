/**
 * One arm with its paddle in hand: what its torques are made of, dry or afloat. Kinematics (chain.ts), rigid-body dynamics with the
 * paddle as part of the last link (dynamics.ts), and the Jacobian at one place; allocation-free.
 */
import type { Arm, Body, Joint, Train } from '../files/rig.js'
import { Chain } from './chain.js'
import { Dynamics } from './dynamics.js'
import { Links } from './links.js'
import { paddleBody } from './paddle-body.js'
import type { BladeShape } from './water/immersion.js'

/** Numbers of a velocity, an acceleration or a wrench of the blade, craft frame: along x, y, z, then about them. */
export const SPATIAL = 6

/** A joint that says what its link weighs. */
export type WeighedJoint = Joint & { readonly body: Body }

export const isWeighed = (joint: Joint): joint is WeighedJoint => joint.body !== null

export class LadenArm {
  readonly n: number
  readonly chain: Chain
  readonly dynamics: Dynamics
  readonly trains: readonly Train[]
  /** J of the last `place`: 6 x n, as `Chain.jacobian` has it */
  readonly jacobian: Float64Array

  /** @param own the arm's joints, from base to tip */
  constructor(arm: Arm, own: readonly WeighedJoint[]) {
    const n = own.length
    this.n = n
    this.trains = own.map((joint) => joint.train)
    this.chain = new Chain(arm, own)
    const bodies = own.map(({ body }) => body)
    this.dynamics = new Dynamics(new Links(arm, own, bodies, this.trains, paddleBody(arm.paddle, arm.tool)))
    this.jacobian = new Float64Array(SPATIAL * n)
  }

  /** Works out `chain.blade` and `jacobian`. @param q rad, n */
  place(q: Float64Array): void {
    this.chain.forward(q)
    this.chain.jacobian(this.jacobian)
  }

  /**
   * Adds J x of the last `place` times a factor: what joints do to the blade.
   * @param x one a joint: speeds, accelerations or small turns @param out six numbers: the same of the blade's centre
   */
  addOfBlade(x: Float64Array, factor: number, out: Float64Array): void {
    const { n, jacobian } = this
    for (let r = 0; r < SPATIAL; r++) {
      let sum = 0
      for (let i = 0; i < n; i++) sum += jacobian[r * n + i]! * x[i]!
      out[r]! += factor * sum
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

/** The blade as the water meets it: a flat rectangle of the paddle's length that has its area. */
export function wetShape({ paddle, tool }: Pick<Arm, 'paddle' | 'tool'>): BladeShape {
  const { normal, shaft } = tool
  return { normal, shaft, length: paddle.length, width: paddle.area / paddle.length }
}
