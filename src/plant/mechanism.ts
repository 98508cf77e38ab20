/** How the joints of a plant are coupled to each other and to what is around them. */
import type { Nanos } from '../clock.js'
import type { MotionState } from './servo.js'

/** A joint as a mechanism takes it from one grid point to the next: `intend`, then `proceed`. */
export interface CoupledJoint {
  /** At the grid point; after `intend` and until `proceed` of no meaning. */
  readonly motion: Readonly<MotionState>
  /** At rest without power, and held there: nothing can move it. */
  readonly asleep: boolean
  /** N m that its motor can give now; Infinity while a brake, a jam or nothing at all has the joint and not its motor. */
  readonly ceiling: number
  /** Takes the step that it would take if its motor could bear anything. @returns rad/s2, the mean over the step */
  intend(): number
  /** Ends the step with another mean acceleration (rad/s2) than intended, or the same. @param torque N m that its motor gave */
  proceed(acceleration: number, torque: number): void
  /** While it is asleep: on to the grid point `t`. */
  sleep(t: Nanos): void
}

export interface Mechanism {
  /** Takes joint number `index` of the rig in; all of them, before the first `advance`. */
  join(index: number, joint: CoupledJoint): void
  /** Takes every joint to the last grid point at or before `t`. */
  advance(t: Nanos): void
}
