/**
 * The faults of the proof: each at three severities that are formulas in the rig's units, with the watch that should catch it and
 * a bound, from physics and from what the rig states, on how long that may take. Written down before any threshold is set by what
 * runs show; what is not caught is a result.
 */

import type { FaultName } from '../../src/files/faults/catalogue.js'
import type { FaultTarget } from '../../src/files/faults/kind.js'
import type { PlantKind } from '../../src/files/rig.js'
import type { TimedFault } from '../../src/files/scenario.js'
import { ARM_ENTRIES } from './faults/arms.js'
import { BENCH_ENTRIES } from './faults/bench.js'
import { BUS_ENTRIES } from './faults/buses.js'
import { DRIVE_ENTRIES } from './faults/drives.js'
import { ENCODER_ENTRIES } from './faults/encoders.js'
import { LINE_ENTRIES } from './faults/lines.js'
import { PROVING_ENTRIES } from './faults/proving.js'
import type { ProofRig, RigName } from './rigs.js'
import type { ScriptName } from './scripts.js'

export interface FaultEntry {
  readonly name: string
  /** The fault that it is about, where another entry bears its name. */
  readonly about?: FaultName
  readonly target: FaultTarget
  /** SI, or a count; three equal numbers where the fault is there or is not. */
  readonly severities: (rig: ProofRig) => readonly [small: number, nominal: number, large: number]
  /**
   * Name of a watch, or of what stops a run besides the watches, that should name the cause; several as in `a or b` where each of them
   * names it, and which comes first is a matter of how fast the joint was; or `none: ` and the reason.
   */
  readonly expected: string
  /** s, from the beginning of the fault (or of the scenario, where it is there from power-on) to the finding */
  readonly detectWithin: (rig: ProofRig, severity: number) => number
  /** The commands under which it shows; left out: ahead all the time. */
  readonly script?: ScriptName
  /** Left out: the demo skiff. */
  readonly rig?: RigName
  /** Left out: dry, where simulated joints bear neither weight nor friction. */
  readonly plant?: PlantKind
  /** One sentence: why this watch, and why in this time. */
  readonly why: string
  /** What a run plays. @param at s of the scenario, while the blades stroke */
  readonly faults: (rig: ProofRig, severity: number, at: number) => readonly TimedFault[]
}

export const FAULT_ENTRIES: readonly FaultEntry[] = [
  ...LINE_ENTRIES,
  ...ENCODER_ENTRIES,
  ...DRIVE_ENTRIES,
  ...PROVING_ENTRIES,
  ...ARM_ENTRIES,
  ...BUS_ENTRIES,
  ...BENCH_ENTRIES,
]
