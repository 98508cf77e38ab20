/**
 * The overall stopping time of a rig's hard-wired stop, as far as people vouch for it: entered in the guided test of that stop,
 * on real arms, for this state of the rig file and not expired; or stated in the rig file itself. Where there are both, the
 * longer one counts. The harness's own times are none: it sees neither the press nor arms at full speed.
 */
import { wall } from '../clock.js'
import { resolvedRigText } from '../files/resolved-text.js'
import type { Rig } from '../files/rig.js'
import { showQuantity } from '../units.js'
import type { HardWiredStopTest } from '../verdict/separation.js'
import { watchSchemas } from '../watch/settings.js'
import { type Confirmation, lackOf, newestReal, rigHash } from './confirmed.js'
import { confirmedFile, type RigOnFile, readConfirmed } from './store.js'

/** A time that somebody vouches for, or in one sentence what is lacking. */
export type ConfirmedOverall =
  | { readonly test: HardWiredStopTest }
  | { readonly test: null; readonly lacks: string }

const STOP = { what: 'stop', place: '' } as const
const TIME = { what: 'stopping-time', place: '' } as const

/** @param hash of the rig as it is now @param ageOf s since the time of a confirmation */
export function confirmedOverall(
  rig: Pick<Rig, 'motion'>,
  confirmations: readonly Confirmation[],
  hash: string,
  ageOf: (at: string) => number,
): ConfirmedOverall {
  // The time is one of a stop that has been seen to work.
  for (const thing of [TIME, STOP]) {
    const lacks = lackOf(rig, confirmations, thing, hash, ageOf)
    if (lacks !== null) return { test: null, lacks }
  }
  const { time, by, at, found } = newestReal(confirmations, 'stopping-time', '')!
  const seen = newestReal(confirmations, 'stop', '')!.time ?? 0
  if (time === null || time < seen) {
    const entered = time === null ? 'none' : showQuantity(time, 's')
    return {
      test: null,
      lacks: `the overall stopping time entered by ${by} (${entered}) cannot be: in the test of the stop a joint was seen to go on for ${showQuantity(seen, 's')}`,
    }
  }
  return {
    test: {
      stop: 'hard-wired',
      arms: 'real',
      overall: time,
      confirmed: `${by}, ${at.slice(0, 10)}: ${found}`,
    },
  }
}

/** Of the rig's own file of confirmations, now. @throws DrystrokeError `file-access`, `file-invalid` */
export function overallNow({ rig, rigText, rigFile }: RigOnFile): ConfirmedOverall {
  const hash = rigHash(resolvedRigText(rigText, watchSchemas))
  return confirmedOverall(rig, readConfirmed(confirmedFile(rigFile)), hash, wall.secondsSince)
}
