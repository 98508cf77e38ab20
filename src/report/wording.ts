/** Words and numbers that terminal, JUnit and page share. */

import { seconds } from '../clock.js'
import type { Figure, Finding, Severity } from '../files/event.js'
import { showBeside, showQuantity } from '../units.js'
import type { EscalationFacts, Outcome, Verdict } from '../verdict/verdict.js'

/** `6.012 s` of the scenario; before it, or without it, `0.450 s of the run`. */
export function scenarioTime(t: number, zero: number | null): string {
  if (zero === null || t < zero) return `${seconds(t).toFixed(3)} s of the run`
  return `${seconds(t - zero).toFixed(3)} s`
}

/** `31 ms (limit 30 ms)` */
export function valueAndLimit(f: Finding | Figure): string {
  if (f.limit === null) return showQuantity(f.value, f.unit)
  const [value, limit] = showBeside(f.value, f.limit, f.unit)
  return `${value} (limit ${limit})`
}

export function placeName(place: string): string {
  return place === '' ? 'whole rig' : place
}

/** `made harder at 6.500 s by stop (port.elbow): the held stop was given up: ...` */
export function escalationTold({ source, place, t, says }: EscalationFacts, zero: number | null): string {
  return `made harder at ${scenarioTime(t, zero)} by ${source} (${placeName(place)}): ${says}`
}

export const OUTCOME_WORD: Readonly<Record<Outcome, string>> = {
  pass: 'PASS',
  fail: 'FAIL',
  incomplete: 'INCOMPLETE',
}

/**
 * Is this the failure that the scenario is there for? A failure that is not makes every verdict `fail`, so in another verdict
 * all are expected. In a failed run they cannot be told apart: none counts as expected.
 */
export function isExpected(f: Finding, v: Verdict): boolean {
  return f.severity === 'failure' && v.outcome !== 'fail'
}

/** `failure`, or `failure, expected`. */
export function severityWord(f: Finding, v: Verdict): string {
  return isExpected(f, v) ? 'failure, expected' : f.severity
}

/** Findings of a severity that nobody expected. */
export function countOf(severity: Severity, v: Verdict): number {
  return v.findings.filter((f) => f.severity === severity && !isExpected(f, v)).length
}

/** `2 failures, 1 doubt`, `1 expected failure`; `none` when there are none. Findings beyond the list are counted too. */
export function findingCount(v: Verdict): string {
  const counts = [
    [countOf('failure', v), 'failure'],
    [countOf('doubt', v), 'doubt'],
    [countOf('warning', v), 'warning'],
    [v.findings.filter((f) => isExpected(f, v)).length, 'expected failure'],
  ] as const
  const parts = counts.filter(([n]) => n > 0).map(([n, word]) => `${n} ${word}${n === 1 ? '' : 's'}`)
  if (v.moreFindings > 0) parts.push(`${v.moreFindings} more`)
  return parts.length === 0 ? 'none' : parts.join(', ')
}

/** What an expectation came to. Of a run that is incomplete, what is not met has only not been shown. */
export function expectationWord(met: boolean, v: Verdict): 'met' | 'not met' | 'not shown' {
  if (met) return 'met'
  return v.outcome === 'incomplete' ? 'not shown' : 'not met'
}
