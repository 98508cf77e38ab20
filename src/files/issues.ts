/** Turns what a schema finds wrong into one complaint for each mistake. */
import type { z } from 'zod'
import { type Complaint, type Path, show, valueAt } from './complaint.js'
import { didYouMean, nearest, oneOf } from './nearest.js'
import { alternativeOf, keysAt, schemaAt } from './schema-walk.js'

/** @param raw what was given to the schema */
export function complaintsOf(error: z.ZodError, schema: z.ZodType, raw: unknown): Complaint[] {
  const complaints: Complaint[] = []
  /** Keys that are only missing because they are misspelt. */
  const misspelt = new Set<string>()
  const issues = error.issues.flatMap((issue) => chosen(issue, schema, raw))
  for (const issue of issues) {
    if (issue.code !== 'unrecognized_keys') continue
    const section = issue.path as Path
    const valid = keysAt(schema, section, raw)
    const present = valueAt(raw, section) as object
    const absent = valid.filter((key) => !Object.hasOwn(present, key))
    for (const key of issue.keys) {
      const meant = nearest(key, absent) ?? nearest(key, valid)
      if (meant !== undefined) misspelt.add(JSON.stringify([...section, meant]))
      complaints.push(unknownKey([...section, key], valid, meant))
    }
  }
  for (const issue of issues) {
    if (issue.code === 'unrecognized_keys') continue
    const path = issue.path as Path
    if (path.length > 0 && valueAt(raw, path) === undefined) {
      if (issue.code === 'custom') complaints.push(badDefault(path, issue.message))
      else if (!misspelt.has(JSON.stringify(path))) complaints.push(missingKey(path, issue.message))
    } else complaints.push(badValue(path, valueAt(raw, path), issue))
  }
  return complaints
}

/** Where none of several alternatives fits: what is wrong with the one that was meant. */
function chosen(issue: z.core.$ZodIssue, schema: z.ZodType, raw: unknown): z.core.$ZodIssue[] {
  if (issue.code !== 'invalid_union' || 'discriminator' in issue) return [issue]
  const path = issue.path as Path
  const union = (schemaAt(schema, path, raw) as z.core.$ZodTypes | undefined)?._zod.def
  if (union?.type !== 'union') return [issue]
  const meant = union.options.indexOf(alternativeOf(union, valueAt(raw, path)))
  return issue.errors[meant]!.map((inner) => ({ ...inner, path: [...path, ...inner.path] }))
}

function unknownKey(path: Path, valid: readonly string[], meant: string | undefined): Complaint {
  const found = `the unknown key "${path.at(-1)}"`
  return { path, at: 'key', found, expected: oneOf(valid), advice: didYouMean(meant) || 'remove it' }
}

function missingKey(path: Path, expected: string): Complaint {
  return { path, at: 'section', found: `no key "${path.at(-1)}"`, expected, advice: 'add it' }
}

/** A value that the file leaves out, and whose default does not go with what the file states. */
function badDefault(path: Path, expected: string): Complaint {
  return { path, at: 'section', found: `"${path.at(-1)}" left at its default`, expected, advice: 'state it' }
}

function badValue(path: Path, value: unknown, issue: z.core.$ZodIssue): Complaint {
  // A word that chooses between forms: the schema's own message is about the form as a whole.
  if (issue.code === 'invalid_union' && 'options' in issue && value !== undefined) {
    // The word may be left out: nothing is one of the options then.
    const words = (issue.options as unknown[]).filter((word) => word !== undefined)
    return wrongWord(path, value, words.map(String))
  }
  const bare = typeof value === 'number' && issue.code === 'invalid_type' && issue.expected === 'string'
  const found = bare ? `the bare number ${value}` : show(value)
  const advice =
    typeof value === 'string' && issue.code === 'invalid_value' ? otherWord(value, issue.values) : ''
  return { path, at: 'value', found, expected: issue.message, ...(advice ? { advice } : {}) }
}

function wrongWord(path: Path, value: unknown, valid: readonly string[]): Complaint {
  const advice = didYouMean(nearest(String(value), valid))
  return { path, at: 'value', found: show(value), expected: oneOf(valid), ...(advice ? { advice } : {}) }
}

function otherWord(value: string, valid: readonly unknown[]): string {
  if (valid.includes(Number(value))) return 'write it without quotes'
  return didYouMean(nearest(value, valid.map(String)))
}
