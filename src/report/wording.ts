/** Words and numbers that terminal, JUnit and page share. */

import { seconds } from '../clock.js'
import type { Figure, Finding } from '../files/event.js'
import { showQuantity } from '../units.js'
import type { Outcome, Verdict } from '../verdict/verdict.js'

/** `6.012 s` after scenario zero; before it, or without it, the time since the run began, and it says so. */
export function scenarioTime(t: number, zero: number | null): string {
  if (zero === null) return `${seconds(t).toFixed(3)} s from the start`
  return `${seconds(t - zero).toFixed(3)} s`
}

/** `31.0 ms (limit 30.0 ms)` */
export function valueAndLimit(f: Finding | Figure): string {
  const value = showQuantity(f.value, f.unit)
  return f.limit === null ? value : `${value} (limit ${showQuantity(f.limit, f.unit)})`
}

export function placeName(place: string): string {
  return place === '' ? 'whole rig' : place
}

export const OUTCOME_WORD: Readonly<Record<Outcome, string>> = {
  pass: 'PASS',
  fail: 'FAIL',
  incomplete: 'INCOMPLETE',
}

/** `2 failures, 1 doubt`; `none` when there are none. Findings beyond the list are counted too. */
export function findingCount(v: Verdict): string {
  const parts: string[] = []
  for (const [severity, one, many] of [
    ['failure', 'failure', 'failures'],
    ['doubt', 'doubt', 'doubts'],
    ['warning', 'warning', 'warnings'],
  ] as const) {
    const n = v.findings.filter((f) => f.severity === severity).length
    if (n > 0) parts.push(`${n} ${n === 1 ? one : many}`)
  }
  if (v.moreFindings > 0) parts.push(`${v.moreFindings} more`)
  return parts.length === 0 ? 'none' : parts.join(', ')
}
