/**
 * A watch: one check that follows a run. It is a fold over observations: no clock, no I/O, no randomness, so that
 * a running bench and a recording judged later give the same findings.
 */
import type { BenchEvent, Figure, Finding } from '../files/event.js'
import type { Rig } from '../files/rig.js'
import type { Scenario } from '../files/scenario.js'
import type { WireObservation } from '../wire/observation.js'

export type Observation = WireObservation | BenchEvent
export type ObservationKind = Observation['kind']

export interface WatchContext<S> {
  readonly rig: Rig
  readonly scenario: Scenario
  /** This watch's own settings, from the rig's `watch` section with defaults filled in. */
  readonly settings: S
  /** Gives a finding away. A finding with `stop` set latches the stop before the next observation is seen. */
  report(finding: Omit<Finding, 'watch'>): void
}

export interface Watch {
  /** The kinds it wants to see; others are not shown to it. */
  readonly kinds: readonly ObservationKind[]
  /** false when the run is over: it had nothing to look at, and the verdict does not name it. */
  readonly seen?: boolean
  see(observation: Observation): void
  /** The run is over; last findings may be given. */
  close(): void
  /** Called once, after `close`. Order is part of the verdict's bytes. */
  figures(): Figure[]
}
