/** The SDO scripts of a drive: set-up with every entry read back, and seeding. */
import type { Cia402Joint, Rig } from '../files/rig.js'
import { showDrive } from '../wire/cia402/identity.js'
import { IDENTITY, OBJECT } from '../wire/cia402/objects.js'
import { withSign } from '../wire/cia402/sdo.js'
import { CONTROLWORD, driveState, isOff } from '../wire/cia402/state.js'
import { nameOf, type SdoScript } from './sdo-client.js'
import { type SetupEntry, setupEntries } from './setup.js'

/**
 * Brings a drive that an earlier run left enabled to rest and takes its power away, by SDO: its PDOs may be mapped in any
 * way. Never NMT first: a node that leaves operational no longer hears a controlword. Power goes only when the drive says
 * that it is off, or has had the time of its longest quick stop: it must not be cut while the joint turns.
 * @param polls statusword reads, one a tick, that cover the longest quick stop
 * @param onFoundOn told once when the drive was not off
 */
export function* calm(polls: number, onFoundOn: () => void): SdoScript {
  let state = driveState(yield { read: OBJECT.statusword })
  if (state && isOff(state)) return undefined
  onFoundOn()
  for (const command of ['quick stop', 'disable voltage'] as const) {
    yield { write: OBJECT.controlword, value: CONTROLWORD[command] }
    for (let i = 0; i < polls; i++) {
      yield { pause: true }
      state = driveState(yield { read: OBJECT.statusword })
      if (state && isOff(state)) return undefined
    }
  }
  return {
    says: 'gives torque, and neither quick stop nor disable voltage by SDO ends it; cut its power with the hard-wired stop',
    expected: 'a drive without torque',
    found: state ?? 'an undefined statusword',
  }
}

/**
 * Who the drive says that it is: its identity object, and its firmware where it tells (both optional but for the vendor).
 * @param confirmed who it must be, null: anyone
 * @param onIdentity told in any case
 */
export function* identify(confirmed: string | null, onIdentity: (says: string) => void): SdoScript {
  const numbers: (number | null)[] = []
  for (const entry of IDENTITY) {
    const value = yield { read: entry, optional: true }
    numbers.push(Number.isNaN(value) ? null : value)
  }
  let firmware: string | null = null
  yield {
    text: OBJECT.firmware,
    take: (text) => {
      firmware = text
    },
  }
  const found = showDrive(numbers, firmware)
  onIdentity(found)
  if (confirmed === null || confirmed === found) return undefined
  return {
    says: 'is not the drive with the firmware that a person has confirmed; confirm this joint again: drystroke jog',
    expected: confirmed,
    found,
  }
}

/** Writes and reads back every entry of the set-up. */
export function* configure(rig: Rig, joint: Cia402Joint): SdoScript {
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

/**
 * What the cyclic feedback would say, from a drive that sends none: its node has left operational, or nobody sends SYNC.
 * @param hear told statusword and counts, read one after the other
 */
export function* inquire(hear: (word: number, counts: number) => void): SdoScript {
  const counts = yield { read: OBJECT.actualPosition }
  const word = yield { read: OBJECT.statusword }
  hear(word, counts)
  return undefined
}
