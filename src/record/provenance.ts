/**
 * Where and when a run was made. This is the one file of a recording (besides the report) that holds wall-clock time, machine,
 * versions and paths; all the others are the same on every machine.
 */
import { readFileSync } from 'node:fs'
import { hostname } from 'node:os'
import { join } from 'node:path'
import { wall } from '../clock.js'
import { RECORDING_FILES } from './folder.js'

export interface Provenance {
  readonly format: 'drystroke-provenance-1'
  /** ISO 8601, UTC */
  readonly started: string
  /** null: the recording was not closed */
  readonly ended: string | null
  readonly host: string
  /** Operating system and processor, such as `linux x64`. */
  readonly platform: string
  readonly node: string
  readonly drystroke: string
  /** Command line without the program. */
  readonly arguments: readonly string[]
  readonly rigFile: string
  readonly scenarioFile: string
  /** Simulated in the bench's own memory, by a stand-in on the rig's buses, or real. */
  readonly arms: 'simulated' | 'stand-in' | 'real'
  /** Real arms: the overall stopping time of their hard-wired stop that was entered in its guided test, as it held then. */
  readonly overallStop?: OverallStopThen
}

export type OverallStopThen =
  | {
      /** s */
      readonly time: number
      /** Who entered it, when, and how it was measured. */
      readonly says: string
    }
  /** What was lacking. */
  | { readonly time: null; readonly says: string }

/** Facts of this process, now. */
export function provenanceNow(
  given: Pick<Provenance, 'rigFile' | 'scenarioFile' | 'arms' | 'overallStop'> & {
    readonly arguments?: readonly string[]
  },
): Provenance {
  return {
    format: 'drystroke-provenance-1',
    started: wall.stamp(),
    ended: null,
    host: hostname(),
    platform: `${process.platform} ${process.arch}`,
    node: process.version,
    drystroke: version(),
    arguments: given.arguments ?? process.argv.slice(2),
    rigFile: given.rigFile,
    scenarioFile: given.scenarioFile,
    arms: given.arms,
    ...(given.overallStop ? { overallStop: given.overallStop } : {}),
  }
}

function version(): string {
  // Both src/record and dist/record stand two levels below package.json.
  const text = readFileSync(new URL('../../package.json', import.meta.url), 'utf8')
  return (JSON.parse(text) as { version: string }).version
}

/** Of a recording; null when the file is missing or is none of ours: nothing of a judgement rests on it. */
export function readProvenance(folder: string): Provenance | null {
  try {
    const value = JSON.parse(
      readFileSync(join(folder, RECORDING_FILES.provenance), 'utf8'),
    ) as Provenance | null
    return value?.format === 'drystroke-provenance-1' ? value : null
  } catch {
    return null
  }
}
