/** What turns commands into joint setpoints: the built-in reference driver, later the team's own. */
import type { Command } from '../files/scenario.js'

export interface Driver {
  /** rad, all joints of the rig in order: blades out of the water, where a run starts and ends. */
  readonly parkPose: Float64Array
  /** Every blade is parked. */
  readonly parked: boolean
  /** Back to the parked state, at rest; the arms stand at `parkPose`. Called before the first step and after a stop. */
  begin(): void
  /**
   * One control period.
   * @param command in force in this period
   * @param out rad, all joints of the rig in order: setpoints for the end of this period
   * @throws DrystrokeError `unreachable`, naming arm and phase; `out` is then not to be used
   */
  step(command: Command, out: Float64Array): void
}
