/** Reading plain values of which nothing is known yet: whatever is not there or not of the kind asked for is empty. */
import { type Complaint, type Path, valueAt } from './complaint.js'
import { didYouMean, nearest, oneOf } from './nearest.js'

export function items(raw: unknown, path: Path): unknown[] {
  const value = valueAt(raw, path)
  return Array.isArray(value) ? value : []
}

export function textAt(raw: unknown, path: Path): string | undefined {
  const value = valueAt(raw, path)
  return typeof value === 'string' ? value : undefined
}

export function unknownName(path: Path, name: string, what: string, valid: readonly string[]): Complaint {
  const advice = didYouMean(nearest(name, valid))
  return {
    path,
    at: 'value',
    found: `"${name}", ${what}`,
    expected: oneOf(valid),
    ...(advice ? { advice } : {}),
  }
}

export interface LooseJoint {
  readonly path: Path
  /** `arm.joint`, undefined when one of the two names is not good. */
  readonly name: string | undefined
  readonly raw: unknown
}
