/** Reads rig and scenario files. A file that is not acceptable gives one error that lists every mistake in it. */
import { readdirSync, readFileSync, statSync } from 'node:fs'
import { basename, dirname } from 'node:path'
import type { z } from 'zod'
import { DrystrokeError } from '../errors.js'
import type { Complaint } from './complaint.js'
import { complaintsOf } from './issues.js'
import { type FileKind, otherKind } from './kind.js'
import { didYouMean, nearest } from './nearest.js'
import { resolveRig, resolveScenario } from './resolve.js'
import type { Rig } from './rig.js'
import { rigReferences } from './rig-references.js'
import { rigForm } from './rig-schema.js'
import type { Scenario } from './scenario.js'
import { scenarioReferences } from './scenario-references.js'
import { scenarioForm } from './scenario-schema.js'
import { Source } from './source.js'

export type WatchSchemas = Readonly<Record<string, z.ZodType>>
export type WatchSettings<S extends WatchSchemas> = { readonly [K in keyof S]: z.output<S[K]> }

/**
 * @param file as it shall stand in messages
 * @param watchSchemas settings of the watches, by name; each must accept an empty section
 * @param check what can only be judged once the rig is resolved
 * @throws DrystrokeError `file-invalid` with one line for each mistake:
 *   `file:line:column: where: found this; expected that; what to do`
 */
export function loadRig<const S extends WatchSchemas>(
  text: string,
  file: string,
  watchSchemas: S,
  check: (rig: Rig<WatchSettings<S>>) => readonly Complaint[] = () => [],
): Rig<WatchSettings<S>> {
  const form = load(text, file, 'rig', rigForm(watchSchemas), rigReferences)
  const rig = resolveRig(form) as Rig<WatchSettings<S>>
  const complaints = check(rig)
  if (complaints.length > 0) {
    const source = new Source(text, file)
    for (const c of complaints) source.complain(c)
    source.throwIfMistaken()
  }
  return rig
}

/**
 * @param rig that the scenario is to be played on: its names are the valid ones
 * @throws DrystrokeError `file-invalid`, as for {@link loadRig}
 */
export function loadScenario(text: string, file: string, rig: Rig): Scenario {
  const form = load(text, file, 'scenario', scenarioForm, (raw) => scenarioReferences(raw, rig))
  return resolveScenario(form, rig)
}

/** @throws DrystrokeError `file-access` when there is no such file, else as {@link loadRig} */
export function readRigFile<const S extends WatchSchemas>(
  path: string,
  watchSchemas: S,
): Rig<WatchSettings<S>> {
  return loadRig(readText(path), path, watchSchemas)
}

/** @throws DrystrokeError `file-access` when there is no such file, else as {@link loadScenario} */
export function readScenarioFile(path: string, rig: Rig): Scenario {
  return loadScenario(readText(path), path, rig)
}

function load<F extends z.ZodType>(
  text: string,
  file: string,
  kind: FileKind,
  form: F,
  references: (raw: unknown, form: F) => Complaint[],
): z.output<F> {
  const source = new Source(text, file)
  if (source.raw === undefined) source.throwIfMistaken()
  const other = otherKind(source.raw, kind)
  if (other) {
    source.complain(other)
    source.throwIfMistaken()
  }
  const parsed = form.safeParse(source.raw)
  if (!parsed.success) for (const c of complaintsOf(parsed.error, form, source.raw)) source.complain(c)
  for (const c of references(source.raw, form)) source.complain(c)
  source.throwIfMistaken()
  if (!parsed.success)
    throw new DrystrokeError('defect', `${file} was refused without a reason`, { file }, parsed.error)
  return parsed.data
}

const MOST_BYTES = 1_000_000

/** @throws DrystrokeError `file-access` or `file-invalid` */
export function readText(path: string): string {
  let bytes: Uint8Array
  try {
    const { size } = statSync(path)
    if (size > MOST_BYTES) {
      const text = `${path}:1:1: found ${size} bytes; expected at most 1 MB of YAML; check that this is the file that was meant`
      throw new DrystrokeError('file-invalid', text, { file: path })
    }
    bytes = readFileSync(path)
  } catch (cause) {
    if (cause instanceof DrystrokeError) throw cause
    const reason = cause instanceof Error && 'code' in cause ? String(cause.code) : String(cause)
    const advice = didYouMean(neighbour(path)) || 'check the path'
    const text = `${path}: found nothing that can be read (${reason}); expected a file in YAML; ${advice}`
    throw new DrystrokeError('file-access', text, { file: path }, cause)
  }
  try {
    return new TextDecoder('utf-8', { fatal: true }).decode(bytes)
  } catch (cause) {
    const text = `${path}:1:1: found bytes that are not UTF-8; expected text in YAML; check that this is the file that was meant`
    throw new DrystrokeError('file-invalid', text, { file: path }, cause)
  }
}

/** A file of the same folder with nearly the same name. */
export function neighbour(path: string): string | undefined {
  try {
    return nearest(basename(path), readdirSync(dirname(path)))
  } catch {
    return undefined
  }
}
