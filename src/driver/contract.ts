/** What turns commands into joint setpoints: the built-in reference driver, or the team's own. */
import type { Nanos } from '../clock.js'
import type { DrystrokeError } from '../errors.js'
import type { BenchEvent } from '../files/event.js'
import type { Command } from '../files/scenario.js'

/** The bench, as a driver outside of this process needs it: its time, and the record of the run. */
export interface DriverHost {
  now(): Nanos
  event(e: BenchEvent): void
}

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
  /** Something of it is broken, whatever it is asked: it died, or what it sent was no answer. Null: nothing is. */
  readonly trouble?: DrystrokeError | null
  /** The run that it takes part in is there. */
  attach?(host: DriverHost): void
  /** A new start begins, before the arms are moved: what was lost and has come back since is met anew. */
  meetAnew?(): void
  /** Back to the parked state, at rest; the arms stand at `parkPose`. Called before the first step and after a stop. */
  begin(): void
  /**
   * One control period.
   * @param command in force in this period
   * @param out rad, all joints of the rig in order: setpoints for the end of this period
   * @throws DrystrokeError `unreachable`, naming arm and phase, or what `trouble` is; `out` is then not to be used
   */
  step(command: Command, out: Float64Array): void
  /** The same in a period in which no command comes: it must come to rest by itself. Left out: as with a command of zero. */
  stepAlone?(out: Float64Array): void
  /**
   * In virtual time, after each period: null, or resolves once the driver has answered what it was asked, or something of it is
   * broken. Real time waits for nobody.
   */
  settle?(): Promise<void> | null
}
