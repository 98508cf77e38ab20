/** What turns commands into joint setpoints: the built-in reference driver, later the team's own. */
import type { Command } from '../files/scenario.js'

export interface Driver {
  /** rad, all joints of the rig in order: blades out of the water, where a run starts and ends. */
  readonly parkPose: Float64Array
  /** Every blade is parked. */
  readonly parked: boolean
  /**
   * For a driver that begins wherever the arms are: `held` (rad, all joints) becomes its park pose, and the arms are not
   * moved before it is asked for its first step. Without it they go to `parkPose` first.
   */
  standAt?(held: Float64Array): void
  /** It has nothing more to do: the run goes to its end, whatever the scenario's time is. */
  readonly done?: boolean
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
