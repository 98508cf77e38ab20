/** What a run comes to. Worked out from frames and events alone: no wall clock, no machine, no path stands in it. */
import type { Nanos } from '../clock.js'
import type { EmergencyCategory, EndReason, Figure, Finding, StopCategory } from '../files/event.js'

export type Outcome = 'pass' | 'fail' | 'incomplete'

export interface Verdict {
  readonly format: 'drystroke-verdict-1'
  readonly outcome: Outcome
  /** The reason in one sentence. */
  readonly sentence: string
  readonly rig: string
  readonly scenario: string
  readonly seed: number
  /** ns, from the first to the last observation */
  readonly length: Nanos
  /** Time of scenario zero, the start of the stage `play`; null if the run never got there. */
  readonly zero: Nanos | null
  readonly ended: EndReason | 'cut short'
  /** One row for each thing that the scenario expects. */
  readonly expectations: readonly ExpectationRow[]
  readonly stop: StopFacts | null
  /** In order of time; at most 200, `moreFindings` counts the rest. */
  readonly findings: readonly Finding[]
  readonly moreFindings: number
  readonly watches: readonly WatchFigures[]
  readonly cautions: readonly string[]
}

export interface ExpectationRow {
  readonly expected: string
  readonly found: string
  readonly met: boolean
}

export interface StopFacts {
  readonly source: string
  readonly place: string
  readonly category: StopCategory
  readonly t: Nanos
  readonly says: string
  /** The harder stop that took its place while it was in force, or null. */
  readonly escalation: EscalationFacts | null
  /** s from the stop to the last joint still, null if not all came to rest or feedback was lost. */
  readonly toStill: number | null
}

export interface EscalationFacts {
  readonly source: string
  readonly place: string
  readonly category: EmergencyCategory
  readonly t: Nanos
  readonly says: string
}

export interface WatchFigures {
  readonly watch: string
  readonly figures: readonly Figure[]
}

/**
 * Curves for the report, kept in bounded memory: least and greatest value in each of up to `bins` equal spans of time.
 * Arrays are [joint][bin]; a bin without samples holds NaN.
 */
export interface Trace {
  /** ns, start of the first bin */
  readonly from: Nanos
  /** ns, width of a bin */
  readonly bin: Nanos
  readonly bins: number
  readonly setpoint: readonly Band[]
  readonly feedback: readonly Band[]
  readonly error: readonly Band[]
}

export interface Band {
  readonly min: Float64Array
  readonly max: Float64Array
}
