/** Simulated arms on a mock bus. */
import type { Nanos } from '../clock.js'
import type { FaultKind } from '../files/scenario.js'

export interface PlantFault {
  readonly fault: FaultKind
  /** Index of the joint. */
  readonly joint: number
  /** rad, for offset */
  readonly angle: number
  /** 0..1, for dropped */
  readonly share: number
  /** s, for late */
  readonly delay: number
}

export interface Plant {
  /** Begins (`on`) or ends a fault now. */
  fault(fault: PlantFault, on: boolean): void
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
