/**
 * The faults of the proof: each at three severities that are formulas in the rig's units, with the watch that should catch it and
 * a bound, from physics and from what the rig states, on how long that may take. Written down before any threshold is set by what
 * runs show; what is not caught is a result.
 */
import type { Rig } from '../../src/files/rig.js'
import type { TimedFault } from '../../src/files/scenario.js'
import type { WatchSettings } from '../../src/watch/settings.js'

type ProofRig = Rig<WatchSettings>

export interface FaultEntry {
  readonly name: string
  readonly target: 'joint' | 'arm' | 'bus' | 'driver' | 'clock'
  /** SI, or a count; three equal numbers where the fault is there or is not. */
  readonly severities: (rig: ProofRig) => readonly [small: number, nominal: number, large: number]
  /** Name of a watch, or of what stops a run besides the watches, that should name the cause; or `none: ` and the reason. */
  readonly expected: string
  /** s, from the beginning of the fault to the finding */
  readonly detectWithin: (rig: ProofRig, severity: number) => number
  /** One sentence: why this watch, and why in this time. */
  readonly why: string
  /** What a run plays. @param at s of the scenario, while the blades stroke */
  readonly faults: (rig: ProofRig, severity: number, at: number) => readonly TimedFault[]
}

/** A joint of middle size that moves in every stroke. */
const swing = (rig: ProofRig): number => rig.joints.findIndex((j) => j.name.endsWith('swing'))
/** s, a feedback frame's way from the drive to the watch that judges at the next tick. */
const cycle = (rig: ProofRig): number => 2 * rig.control.period

export const FAULT_ENTRIES: readonly FaultEntry[] = [
  {
    name: 'silent',
    target: 'joint',
    severities: () => [1, 1, 1],
    expected: 'silence',
    detectWithin: (rig) => rig.watch.silence.periods * rig.control.period + cycle(rig),
    why: 'Feedback is missed once it is older than the watch bears, and that is seen at the next tick.',
    faults: (rig, _, at) => [
      {
        at,
        lasts: Number.POSITIVE_INFINITY,
        fault: 'silent',
        place: swing(rig),
        other: -1,
        amount: 0,
      },
    ],
  },
]
