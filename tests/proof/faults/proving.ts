/** Faults that show while the stop path is proven, before anything moves. They are there from power-on. */
import type { FaultName } from '../../../src/files/faults/catalogue.js'
import type { FaultEntry } from '../faults.js'
import type { ProofRig } from '../rigs.js'
import { about, cycle, entry, plain } from './terms.js'

/** s: each step of the set-up may take the patience of the link; a drive that needs longer is refused. */
const asked = (rig: ProofRig): number => rig.link.patience
/** s: then the quick stop, whose time-out lets go of joints that are not at rest, and the time in which sag is looked for. */
const letGo = (rig: ProofRig): number => asked(rig) + rig.stop.answer + rig.stop.timeout + rig.stop.sagWindow

function proven(
  name: FaultName,
  severities: FaultEntry['severities'],
  expected: string,
  detectWithin: FaultEntry['detectWithin'],
  why: string,
): FaultEntry {
  return {
    ...entry(name, 'joint', severities, expected, detectWithin, why, 'from power-on'),
    name: `${name}, when the stop is proven`,
    about: name,
    rig: 'proving',
    // It never comes to that.
    script: 'stopped',
  }
}

export const PROVING_ENTRIES: readonly FaultEntry[] = [
  proven(
    'brakeless',
    plain,
    'proof',
    letGo,
    'The proof takes the power away as a stop does: the joint sinks in the time in which sag is looked for.',
  ),
  proven(
    'kicking',
    (rig) => about(4 * rig.stop.sag),
    'proof',
    letGo,
    'The joint springs off as its power goes, a part of it before its drive has said so: what is left is more than the sag that passes.',
  ),
  proven(
    'stop-ignored',
    plain,
    'drive',
    (rig) => asked(rig) + rig.stop.answer + cycle(rig),
    'A drive that does not answer the quick stop of the proof in its time ends the run.',
  ),
]
