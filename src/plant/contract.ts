/** Simulated arms on a mock bus. */
import type { Nanos } from '../clock.js'
import type { FaultTaker } from '../files/faults/catalogue.js'

export interface Plant extends FaultTaker {
  /** Writes every joint's true position (rad, rig order) at time `t` to `out`: what an eye beside the arm would see. */
  witness(t: Nanos, out: Float64Array): void
  /** Whether the motor of joint number `joint` is powered now, whatever its drive says. */
  powered(joint: number): boolean
  /**
   * Afloat: x, y (m) and heading (rad) over ground, surge, sway (m/s) and yaw rate (rad/s) through the water, as of the last look at
   * the arms. null: dry, and the craft stands.
   */
  readonly craft: Readonly<Float64Array> | null
}
