/** Everything that stands between a command line and arms that move: confirmations first, then the prompt. */
import { wall } from '../clock.js'
import { DrystrokeError } from '../errors.js'
import { resolvedRigText } from '../files/resolved-text.js'
import type { Rig } from '../files/rig.js'
import { watchSchemas } from '../watch/settings.js'
import { confirmedDrives, lacking, rigHash } from './confirmed.js'
import { type ConfirmedOverall, confirmedOverall } from './overall-stop.js'
import { confirmMotion, type Prompt } from './prompt.js'
import { confirmedFile, type RigOnFile, readConfirmed } from './store.js'

/** Most things that a message lists. */
const MOST = 8

/** Are the arms in another place than this process's memory? */
export function isReal({ buses }: Pick<Rig, 'buses'>): boolean {
  return buses.some((bus) => bus.address.kind !== 'mock')
}

/** What people have confirmed of the arms that move. */
export interface Confirmed {
  /** Of each joint the drive, null: any. */
  readonly drives: readonly (string | null)[]
  /** For the report: no motion depends on it. */
  readonly overall: ConfirmedOverall
}

/**
 * Nothing is asked for simulated arms in this process.
 * @returns null: simulated arms
 * @throws DrystrokeError `not-confirmed`, `file-access`, `file-invalid`
 */
export async function mayMove(
  { rig, rigText, rigFile }: RigOnFile,
  prompt: Prompt,
): Promise<Confirmed | null> {
  if (!isReal(rig)) return null
  const file = confirmedFile(rigFile)
  const hash = rigHash(resolvedRigText(rigText, watchSchemas))
  const confirmations = readConfirmed(file)
  const gaps = lacking(rig, confirmations, hash, wall.secondsSince)
  if (gaps.length > 0) {
    const more = gaps.length > MOST ? [`and ${gaps.length - MOST} more`] : []
    throw new DrystrokeError(
      'not-confirmed',
      [
        `Nothing was moved: rig ${rig.name} lacks confirmations (${file}):`,
        ...[...gaps.slice(0, MOST), ...more].map((gap) => `  - ${gap}`),
        `A person beside the arms gives them: drystroke jog --rig ${rigFile}`,
      ].join('\n'),
      { rig: rig.name, file },
    )
  }
  await confirmMotion(rig, prompt)
  return {
    drives: confirmedDrives(rig, confirmations, hash),
    overall: confirmedOverall(rig, confirmations, hash, wall.secondsSince),
  }
}
