/** Reads rig and scenario files. A file that is not acceptable gives one error that lists every mistake in it. */
import type { z } from 'zod'
import { DrystrokeError } from '../errors.js'
import { afloatComplaints } from './afloat-complaints.js'
import { type Complaint, sentenceOf } from './complaint.js'
import { complaintsOf } from './issues.js'
import { type FileKind, otherKind } from './kind.js'
import { readText } from './read-text.js'
import { resolveRig, resolveScenario } from './resolve.js'
import type { Rig } from './rig.js'
import { rigReferences } from './rig-references.js'
import { type RigForm, rigForm, writtenRigForm } from './rig-schema.js'
import type { Scenario } from './scenario.js'
import { scenarioReferences } from './scenario-references.js'
import { scenarioForm } from './scenario-schema.js'
import { Source } from './source.js'
import { namesUrdf, wholeRig } from './urdf/arms.js'

export type WatchSchemas = Readonly<Record<string, z.ZodType>>
export type WatchSettings<S extends WatchSchemas> = { readonly [K in keyof S]: z.output<S[K]> }

/**
 * @param file as it shall stand in messages; URDF files that the rig names are looked for from its folder
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
  const source = opened(text, file, 'rig')
  const form = rigFormOf(source, file, watchSchemas)
  const rig = resolveRig(form) as Rig<WatchSettings<S>>
  for (const c of [...afloatComplaints(rig), ...check(rig)]) source.complain(c)
  source.throwIfMistaken()
  return rig
}

/** What stands in the file, checked: every arm as if it were written by hand. */
function rigFormOf(source: Source, file: string, watchSchemas: WatchSchemas): RigForm {
  const form = rigForm(watchSchemas)
  if (!namesUrdf(source.raw)) return checked(source, form, rigReferences)
  const whole = wholeRig(source.raw, file)
  const written = writtenRigForm(watchSchemas)
  const asWritten = written.safeParse(source.raw)
  if (!asWritten.success)
    for (const c of complaintsOf(asWritten.error, written, source.raw)) source.complain(c)
  for (const c of [...whole.complaints, ...rigReferences(whole.raw, form)]) source.complain(c)
  source.throwIfMistaken(whole.mistakes)
  const parsed = form.safeParse(whole.raw)
  if (parsed.success) return parsed.data
  const elsewhere: string[] = []
  for (const c of complaintsOf(parsed.error, form, whole.raw)) {
    const origin = whole.originOf(c.path)
    if (origin === undefined) source.complain(c)
    else elsewhere.push(`${origin}: ${sentenceOf(whole.raw, { advice: OTHERWISE, ...c })}`)
  }
  source.throwIfMistaken(elsewhere)
  throw unexplained(source, parsed.error)
}

/** For values of a URDF file that the rig does not accept. */
const OTHERWISE = 'correct it, or state it in the rig file'

/**
 * @param rig that the scenario is to be played on: its names are the valid ones
 * @throws DrystrokeError `file-invalid`, as for {@link loadRig}
 */
export function loadScenario(text: string, file: string, rig: Rig): Scenario {
  const references = (raw: unknown) => scenarioReferences(raw, rig)
  return resolveScenario(checked(opened(text, file, 'scenario'), scenarioForm, references), rig)
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

/** @throws DrystrokeError when it is not well-formed, or a file of the other kind */
function opened(text: string, file: string, kind: FileKind): Source {
  const source = new Source(text, file)
  if (source.raw === undefined) source.throwIfMistaken()
  const other = otherKind(source.raw, kind)
  if (other) {
    source.complain(other)
    source.throwIfMistaken()
  }
  return source
}

function checked<F extends z.ZodType>(
  source: Source,
  form: F,
  references: (raw: unknown, form: F) => Complaint[],
): z.output<F> {
  const parsed = form.safeParse(source.raw)
  if (!parsed.success) for (const c of complaintsOf(parsed.error, form, source.raw)) source.complain(c)
  for (const c of references(source.raw, form)) source.complain(c)
  source.throwIfMistaken()
  if (!parsed.success) throw unexplained(source, parsed.error)
  return parsed.data
}

function unexplained({ file }: Source, cause: unknown): DrystrokeError {
  return new DrystrokeError('defect', `${file} was refused without a reason`, { file }, cause)
}
