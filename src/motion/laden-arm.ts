/**
 * One arm with its paddle in hand: what its torques are made of, dry or afloat. To the motion of its blade (blade-motion.ts) it adds
 * rigid-body dynamics with the paddle as part of the last link (dynamics.ts); allocation-free.
 */
import type { Arm, Body, Joint, Train } from '../files/rig.js'
import { BladeMotion } from './blade-motion.js'
import { Dynamics } from './dynamics.js'
import { Links } from './links.js'
import { paddleBody } from './paddle-body.js'
import type { BladeShape } from './water/immersion.js'

/** A joint that says what its link weighs. */
export type WeighedJoint = Joint & { readonly body: Body }

export const isWeighed = (joint: Joint): joint is WeighedJoint => joint.body !== null

export class LadenArm extends BladeMotion {
  readonly dynamics: Dynamics
  readonly trains: readonly Train[]

  /** @param own the arm's joints, from base to tip */
  constructor(arm: Arm, own: readonly WeighedJoint[]) {
    super(arm, own)
    this.trains = own.map((joint) => joint.train)
    const bodies = own.map(({ body }) => body)
    this.dynamics = new Dynamics(new Links(arm, own, bodies, this.trains, paddleBody(arm.paddle, arm.tool)))
  }
}

/** The blade as the water meets it: a flat rectangle of the paddle's length that has its area. */
export function wetShape({ paddle, tool }: Pick<Arm, 'paddle' | 'tool'>): BladeShape {
  const { normal, shaft } = tool
  return { normal, shaft, length: paddle.length, width: paddle.area / paddle.length }
}
