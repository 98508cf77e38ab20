/** The confirmations of a rig, in a file beside the rig file. It is written whole or not at all. */
import { closeSync, fsyncSync, openSync, readFileSync, renameSync, rmSync, writeSync } from 'node:fs'
import { z } from 'zod'
import { DrystrokeError } from '../errors.js'
import type { Rig } from '../files/rig.js'
import type { WatchSettings } from '../watch/settings.js'
import type { Confirmation } from './confirmed.js'

const FORMAT = 'drystroke-confirmed-1'

const text = z.string().max(2000)
const fileForm = z.strictObject({
  format: z.literal(FORMAT),
  rig: text,
  confirmations: z
    .array(
      z.strictObject({
        what: z.literal(['joint', 'stop', 'unplug', 'stopping-time']),
        place: text,
        at: z.iso.datetime(),
        by: text.min(1),
        rig: text,
        arms: z.literal(['simulated', 'stand-in', 'real']),
        drive: text.nullable(),
        // Files of earlier versions have no times.
        time: z.number().min(0).nullable().default(null),
        found: text,
      }),
    )
    .max(10_000),
})

export interface RigOnFile {
  readonly rig: Rig<WatchSettings>
  readonly rigText: string
  readonly rigFile: string
}

/** `rigs/mine.yaml` has its confirmations in `rigs/mine.confirmed.json`. */
export function confirmedFile(rigFile: string): string {
  return `${rigFile.replace(/\.ya?ml$/, '')}.confirmed.json`
}

/** @returns none when there is no such file @throws DrystrokeError `file-access`, `file-invalid` */
export function readConfirmed(file: string): Confirmation[] {
  let raw: string
  try {
    raw = readFileSync(file, 'utf8')
  } catch (error) {
    if ((error as NodeJS.ErrnoException).code === 'ENOENT') return []
    throw new DrystrokeError('file-access', `${file}: cannot be read`, { file }, error)
  }
  let value: unknown
  try {
    value = JSON.parse(raw)
  } catch {
    throw invalid(file, 'no JSON')
  }
  const parsed = fileForm.safeParse(value)
  if (parsed.success) return parsed.data.confirmations
  const issue = parsed.error.issues[0]!
  throw invalid(file, `${issue.path.join('.') || 'the whole'}: ${issue.message}`)
}

function invalid(file: string, found: string): DrystrokeError {
  return new DrystrokeError(
    'file-invalid',
    `${file}: found ${found}; expected what drystroke jog writes; confirm the joints again, into a new file: remove this one`,
    { file },
  )
}

/** @throws DrystrokeError `file-access`: then the file is what it was */
export function writeConfirmed(file: string, rig: string, confirmations: readonly Confirmation[]): void {
  // A name of its own beside it, made anew: two that write at once do not mix, and a rename is whole.
  const draft = `${file}.${process.pid}.new`
  const body = `${JSON.stringify({ format: FORMAT, rig, confirmations }, null, 2)}\n`
  try {
    rmSync(draft, { force: true })
    const fd = openSync(draft, 'wx', 0o644)
    try {
      writeSync(fd, body)
      fsyncSync(fd)
    } finally {
      closeSync(fd)
    }
    renameSync(draft, file)
  } catch (error) {
    rmSync(draft, { force: true })
    throw new DrystrokeError(
      'file-access',
      `${file}: cannot be written; the confirmations were not kept`,
      { file },
      error,
    )
  }
}
