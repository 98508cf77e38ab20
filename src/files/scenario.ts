/** What a scenario file says, resolved: SI numbers, names checked against the rig. `scenario-schema.ts` says how it is written. */
import type { StopCategory } from './event.js'
import type { Fault } from './faults/catalogue.js'
import type { PlantKind } from './rig.js'

export interface Scenario {
  readonly name: string
  readonly about: string
  /** s, from the moment the arms stand parked and ready */
  readonly duration: number
  /** What the simulated arms stand on; of no account where arms are real or a stand-in's. */
  readonly plant: PlantKind
  /** In order of time. */
  readonly commands: readonly TimedCommand[]
  readonly faults: readonly TimedFault[]
  readonly operator: readonly OperatorAction[]
  readonly expect: Expectation
}

/** Surge in m/s, forward +; yaw rate in rad/s, left turn +. */
export interface Command {
  readonly surge: number
  readonly yaw: number
}

/** From `at` on the command is this one, reached linearly over `over` seconds from the one before (zero before the first). */
export interface TimedCommand extends Command {
  readonly at: number
  readonly over: number
  /** None comes any more until the next entry; surge and yaw are zero, which is what the driver should come to. */
  readonly ceases?: boolean
}

/** A fault in its time. */
export interface TimedFault extends Fault {
  /** s; -Infinity: it is there when the arms are switched on, before the harness has sent anything */
  readonly at: number
  /** s, from `at`, or from the beginning of the scenario where it is there from the start; Infinity: until the end */
  readonly lasts: number
}

export const OPERATOR_ACTIONS = ['stop', 'release', 'reset', 'start'] as const

export interface OperatorAction {
  readonly at: number
  readonly action: (typeof OPERATOR_ACTIONS)[number]
}

export type Expectation = ExpectFinish | ExpectStop

/** The scenario plays to its end without a stop and without a failure. */
export interface ExpectFinish {
  readonly outcome: 'finish'
  /** Strokes that each arm must have made at least, counted from feedback; arms not named are not counted. */
  readonly strokes: readonly ExpectStrokes[]
  /** Every blade must be parked out of the water at the end. */
  readonly parked: boolean
}

export interface ExpectStrokes {
  /** Index of the arm. */
  readonly arm: number
  readonly direction: 'ahead' | 'astern'
  readonly least: number
}

/** The right outcome is a stop, from this source and no other. */
export interface ExpectStop {
  readonly outcome: 'stop'
  /** `operator`, `gate`, `drive`, or the name of a watch */
  readonly by: string
  /** After IEC 60204-1, 9.2.2; null = not asked */
  readonly category: StopCategory | null
  /** Index of the joint that the stop must name, or null. */
  readonly joint: number | null
  /** Index of the bus that the stop must name, or null. */
  readonly bus: number | null
  /** Scenario time (s) of the cause from which `within` counts: the fault or operator action. */
  readonly after: number
  /** s, from the cause to the stop */
  readonly within: number
  /** s, from the stop to the last joint still */
  readonly still: number
  /** No joint may move once still: through release and reset, to the end of the scenario. */
  readonly noMotion: boolean
}
