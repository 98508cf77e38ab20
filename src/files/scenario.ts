/** What a scenario file says, resolved: SI numbers, names checked against the rig. `scenario-schema.ts` says how it is written. */
import type { StopCategory } from './event.js'
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
}

export const FAULTS = ['silent', 'frozen', 'jammed', 'offset', 'dropped', 'late', 'unpowered'] as const

/**
 * What the simulated arms can be made to do wrong.
 * silent: the drive sends nothing any more. frozen: it goes on sending the same position. jammed: the joint cannot move.
 * offset: the encoder jumps by `angle`. dropped: a `share` of its frames is lost. late: its frames come `delay` late.
 * unpowered: the drive has no power; it comes back as at power-on, with a boot-up message and without its set-up.
 */
export type FaultKind = (typeof FAULTS)[number]

export const BUS_FAULTS = ['down', 'unplugged', 'gone', 'disturbed', 'bus-off'] as const

/**
 * What can go wrong with the harness's end of a mock bus, or with the bus.
 * down: the interface is down. unplugged: its plug is pulled, so that nobody acknowledges what it sends. gone: the adapter
 * vanishes, for good. disturbed: a `share` of all frames is disturbed and sent again. bus-off: every frame that the harness
 * sends is disturbed, until its controller switches itself off; at the end of the fault it is restarted.
 */
export type BusFaultKind = (typeof BUS_FAULTS)[number]

export type TimedFault = TimedJointFault | TimedBusFault

export interface BusFault {
  readonly fault: BusFaultKind
  /** Index of the bus. */
  readonly bus: number
  /** 0..1, for disturbed */
  readonly share: number
}

export interface TimedBusFault extends BusFault {
  readonly at: number
  /** s; Infinity = until the end */
  readonly lasts: number
}

/** Name of the joint or bus that a fault is at. */
export function faultPlace(
  fault: TimedFault,
  { joints, buses }: { readonly [K in 'joints' | 'buses']: readonly { readonly name: string }[] },
): string {
  return 'bus' in fault ? buses[fault.bus]!.name : joints[fault.joint]!.name
}

export interface TimedJointFault {
  readonly at: number
  /** s; Infinity = until the end */
  readonly lasts: number
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
