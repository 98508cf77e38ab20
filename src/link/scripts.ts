/** The SDO scripts of a drive: set-up with every entry read back, and seeding. */
import type { Joint, Rig } from '../files/rig.js'
import { OBJECT } from '../wire/cia402/objects.js'
import { withSign } from '../wire/cia402/sdo.js'
import { nameOf, type SdoScript } from './sdo-client.js'
import { type SetupEntry, setupEntries } from './setup.js'

/** Writes and reads back every entry of the set-up. */
export function* configure(rig: Rig, joint: Joint): SdoScript {
  for (const entry of setupEntries(rig, joint)) {
    yield { write: entry.object, value: entry.value }
    const proof = entry.confirmedBy ?? entry.object
    const found = yield { read: proof }
    if (found !== expectedValue(entry)) {
      return {
        says: `set-up differs from what was written: ${entry.says}, object ${nameOf(proof)}`,
        expected: String(expectedValue(entry)),
        found: String(found),
      }
    }
  }
  return undefined
}

/** What reading back must give: unsigned 32-bit values come back unsigned, signed ones with their sign. */
function expectedValue(entry: SetupEntry): number {
  return entry.object.signed ? withSign(entry.value >>> 0, entry.object) : entry.value
}

/**
 * Reads the actual position (6064h) and loads the target (607Ah) with it, so that enabling finds both equal.
 * @param onPosition told the counts read
 */
export function* seed(onPosition: (counts: number) => void): SdoScript {
  const counts = yield { read: OBJECT.actualPosition }
  yield { write: OBJECT.targetPosition, value: counts }
  const loaded = yield { read: OBJECT.targetPosition }
  if (loaded !== counts) {
    return {
      says: 'target position differs from the measured one',
      expected: String(counts),
      found: String(loaded),
    }
  }
  onPosition(counts)
  return undefined
}
