/** Telling a rig file from a scenario file, so that two files given the wrong way round are one mistake, not one for each key. */
import type { Complaint } from './complaint.js'
import { rigForm } from './rig-schema.js'
import { scenarioForm } from './scenario-schema.js'

export type FileKind = 'rig' | 'scenario'

const KEYS: Record<FileKind, readonly string[]> = {
  rig: Object.keys(rigForm({}).shape),
  scenario: Object.keys(scenarioForm.shape),
}

const ADVICE: Record<FileKind, string> = {
  rig: 'give it with --rig, and scenarios without',
  scenario: 'give it without --rig, and the rig with --rig',
}

/** The one complaint about a file most of whose keys are those of the other kind, or null. @param kind that is wanted */
export function otherKind(raw: unknown, kind: FileKind): Complaint | null {
  if (typeof raw !== 'object' || raw === null) return null
  const other = kind === 'rig' ? 'scenario' : 'rig'
  const count = (mine: FileKind, its: FileKind): number =>
    Object.keys(raw).filter((key) => KEYS[mine].includes(key) && !KEYS[its].includes(key)).length
  const strange = count(other, kind)
  if (strange < 2 || strange <= count(kind, other)) return null
  return { path: [], at: 'value', found: `a ${other}`, expected: `a ${kind}`, advice: ADVICE[other] }
}
