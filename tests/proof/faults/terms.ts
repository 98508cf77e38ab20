/** The terms that severities and bounds are made of. */
import type { FaultName } from '../../../src/files/faults/catalogue.js'
import type { TimedFault } from '../../../src/files/scenario.js'
import type { FaultEntry } from '../faults.js'
import type { ProofRig } from '../rigs.js'

export const FROM_POWER_ON = Number.NEGATIVE_INFINITY

/** The first joint of an arm: it is the one that moves the most in a stroke. */
export const first = (rig: ProofRig, arm = 0): number => rig.arms[arm]!.joints[0]!

/** s: a frame that comes is judged at once, one that does not at the next tick; and the tick that begins the fault. */
export const cycle = (rig: ProofRig): number => 2 * rig.control.period

/** s, longest stroke: every joint has moved both ways by its end. At the least rate of the recovery it lasts twice that. */
export const stroke = (rig: ProofRig): number => 2 / rig.stroke.recovery

/** s until a difference that grows with the motion, or is there at once, has stood for the tracking watch's patience */
export const tracked = (rig: ProofRig): number => stroke(rig) + rig.watch.tracking.timeout + cycle(rig)

/** s until something that is told at the end of the run alone is told: the longest that a run of the proof goes on, parks and rests */
export const AT_THE_END = 60

/** rad: what the tracking watch bears. */
export const window = (rig: ProofRig): number => rig.watch.tracking.window
/** rad: what the sense watch bears between feedback and truth. */
export const witness = (rig: ProofRig): number => rig.watch.sense.witness

/** One fault at a place. */
export function one(fault: FaultName, place: number, at: number, amount = 0, other = -1): TimedFault {
  return { at, lasts: Number.POSITIVE_INFINITY, fault, place, other, amount }
}

/** It is there or it is not. */
export const plain = (): readonly [number, number, number] => [1, 1, 1]
/** Half of what is meant, what is meant, and twice of it. */
export const about = (nominal: number): readonly [number, number, number] => [
  nominal / 2,
  nominal,
  2 * nominal,
]

/** An entry of one fault at the first joint, or at the first arm or bus. */
export function entry(
  name: FaultName,
  target: FaultEntry['target'],
  severities: FaultEntry['severities'],
  expected: string,
  detectWithin: FaultEntry['detectWithin'],
  why: string,
  at: 'while it strokes' | 'from power-on' = 'while it strokes',
): FaultEntry {
  return {
    name,
    target,
    severities,
    expected,
    detectWithin,
    why,
    faults: (rig, severity, t) => [
      one(name, target === 'joint' ? first(rig) : 0, at === 'from power-on' ? FROM_POWER_ON : t, severity),
    ],
  }
}

/** The same, and a second fault, in the other arm, that stops the run: what is wrong shows only then. */
export function stopped(base: FaultEntry, after: number): FaultEntry {
  return {
    ...base,
    faults: (rig, severity, at) => [
      ...base.faults(rig, severity, at),
      one('tripped', first(rig, rig.arms.length - 1), at + after),
    ],
  }
}
