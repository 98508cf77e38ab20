/** Verdicts for a terminal or a plain log: a table, and findings in full. */
import { seconds } from '../clock.js'
import type { Finding, Severity } from '../files/event.js'
import { showQuantity } from '../units.js'
import type { Outcome, Verdict } from '../verdict/verdict.js'
import { CATEGORY_MEANS } from './category.js'
import {
  countOf,
  escalationTold,
  isExpected,
  OUTCOME_WORD,
  placeName,
  scenarioTime,
  severityWord,
  valueAndLimit,
} from './wording.js'
import { wrap } from './wrap.js'

export interface TerminalOptions {
  /** ANSI colours; the words alone say everything. */
  readonly colour: boolean
  /** Columns, 80 unless said otherwise. */
  readonly width?: number
}

const CODE = { bold: 1, red: 31, green: 32, yellow: 33, faint: 2 } as const
type Paint = (style: keyof typeof CODE, text: string) => string

const OUTCOME_STYLE: Readonly<Record<Outcome, keyof typeof CODE>> = {
  pass: 'green',
  fail: 'red',
  incomplete: 'yellow',
}

/** A scenario whose recording could not be written to its end: there is no verdict on it. */
export interface Unrecorded {
  readonly scenario: string
  readonly problem: string
}

interface Column {
  readonly title: string
  /** With the gap behind it, or before it when it stands to the right. */
  readonly width: number
  readonly right?: true
}

/** The table's columns: short ones, without how a run ended, where there is no room for all. */
function columnsIn(width: number): readonly Column[] {
  const verdict = { title: 'verdict', width: 12 }
  if (width < 80)
    return [
      verdict,
      { title: 'scenario', width: Math.max(10, Math.min(24, width - 37)) },
      { title: 'length', width: 8, right: true },
      { title: 'fail', width: 6, right: true },
      { title: 'doubt', width: 6, right: true },
      { title: 'warn', width: 5, right: true },
    ]
  return [
    verdict,
    { title: 'scenario', width: Math.min(32, width - 56) },
    { title: 'length', width: 8, right: true },
    { title: '  ended', width: 12 },
    { title: 'failures', width: 8, right: true },
    { title: 'doubts', width: 7, right: true },
    { title: 'warnings', width: 9, right: true },
  ]
}

/**
 * One row a run, the reason below each that did not pass or was stopped, and a closing sum. Ends with a newline.
 * @param notPlayed how many scenarios were not played because something ended the command before
 */
export function verdictTable(
  runs: readonly (Verdict | Unrecorded)[],
  options: TerminalOptions,
  notPlayed = 0,
): string {
  const width = options.width ?? 80
  const columns = columnsIn(width)
  const paint = painter(options.colour)
  const rule = '-'.repeat(columns.reduce((all, c) => all + c.width, 0))
  const lines = [
    paint(
      'bold',
      row(
        columns.map((c) => c.title),
        columns,
      ),
    ),
    rule,
  ]
  const edge = columns[0]!.width
  for (const run of runs) {
    const unrecorded = 'problem' in run
    const cells = unrecorded ? { verdict: 'NO VERDICT', scenario: run.scenario } : cellsOf(run)
    const text = row(
      columns.map((c) => (cells as Record<string, string>)[c.title.trim()] ?? ''),
      columns,
    )
    lines.push(
      paint(unrecorded ? 'yellow' : OUTCOME_STYLE[run.outcome], text.slice(0, edge)) + text.slice(edge),
    )
    const reason = unrecorded ? `The recording failed: ${run.problem}` : reasonOf(run)
    if (reason !== '') lines.push(...wrap(printable(reason), width, edge))
  }
  lines.push(rule, ...wrap(sum(runs, notPlayed), width, 0))
  return `${lines.join('\n')}\n`
}

/** By the titles of both tables, the wide and the narrow one. */
function cellsOf(v: Verdict): Record<string, string> {
  const count = (severity: Severity): string => `${countOf(severity, v)}${v.moreFindings > 0 ? '+' : ''}`
  const [failures, doubts, warnings] = [count('failure'), count('doubt'), count('warning')]
  return {
    verdict: OUTCOME_WORD[v.outcome],
    scenario: printable(v.scenario),
    length: `${seconds(v.length).toFixed(1)} s`,
    ended: `  ${v.ended}`,
    ...{ failures, doubts, warnings },
    ...{ fail: failures, doubt: doubts, warn: warnings },
  }
}

/** One cause can show in every joint: the first findings say enough for a screen. */
const MOST_SHOWN = 6

/** Is there more to say of a run than its row does: was it not passed, or was anything found that was not expected? */
export function needsFindings(v: Verdict): boolean {
  return v.outcome !== 'pass' || v.moreFindings > 0 || v.findings.some((f) => !isExpected(f, v))
}

/** What one run's watches saw, and its stop: joint, scenario time, value and limit, what to look at first. Empty when there is nothing to say. */
export function findingsBlock(v: Verdict, options: TerminalOptions): string {
  const width = options.width ?? 80
  const paint = painter(options.colour)
  // Of a run that was ended or cut nobody can ask what it did not come to.
  const unmet =
    v.ended === 'completed' || v.ended === 'stopped' || v.outcome === 'fail'
      ? v.expectations.filter((e) => !e.met)
      : []
  if (v.findings.length === 0 && v.stop === null && unmet.length === 0) return ''
  const lines = [paint('bold', printable(v.scenario))]
  const lacking = v.outcome === 'incomplete' ? 'not shown' : 'not as expected'
  for (const e of unmet) {
    lines.push(...wrap(`${lacking}: ${printable(e.expected)}`, width, 2, 4))
    lines.push(...wrap(`found: ${printable(e.found)}`, width, 4))
  }
  if (v.stop !== null) {
    const { source, place, t, category, says, toStill } = v.stop
    const rest =
      toStill === null ? 'not all joints came to rest' : `still after ${showQuantity(toStill, 's')}`
    lines.push(
      ...wrap(
        `stop at ${scenarioTime(t, v.zero)}, asked for by ${printable(source)} (${printable(placeName(place))}), ${rest}`,
        width,
        2,
        4,
      ),
    )
    lines.push(...wrap(printable(says), width, 4))
    lines.push(...wrap(`category ${category}: ${CATEGORY_MEANS[category]}`, width, 4))
    const { escalation } = v.stop
    if (escalation !== null) {
      lines.push(...wrap(printable(escalationTold(escalation, v.zero)), width, 4))
      lines.push(...wrap(`category ${escalation.category}: ${CATEGORY_MEANS[escalation.category]}`, width, 4))
    }
  }
  for (const f of foremost(v).slice(0, MOST_SHOWN)) lines.push(...findingLines(f, v, width, paint))
  const more = Math.max(0, v.findings.length - MOST_SHOWN) + v.moreFindings
  const listed = v.moreFindings > 0 ? `the first ${v.findings.length}` : 'all of them'
  if (more > 0) lines.push(...wrap(`and ${more} more findings, ${listed} in report.html`, width, 2))
  return `${lines.join('\n')}\n`
}

/** Failures, doubts, warnings, each in order of time; what was expected comes last. */
function foremost(v: Verdict): readonly Finding[] {
  const rank = (f: Finding): number => (isExpected(f, v) ? 3 : SEVERITIES.indexOf(f.severity))
  return v.findings.toSorted((a, b) => rank(a) - rank(b))
}

const SEVERITIES: readonly Severity[] = ['failure', 'doubt', 'warning']

/** The sentence without the outcome before it, which the row says already; nothing when it says no more than that. */
function reasonOf(v: Verdict): string {
  if (v.outcome === 'pass' && v.stop === null) return ''
  return v.sentence.replace(/^(Pass|Fail|Incomplete): /, '')
}

function findingLines(f: Finding, v: Verdict, width: number, paint: Paint): string[] {
  const style = isExpected(f, v) ? 'faint' : f.severity === 'failure' ? 'red' : 'yellow'
  return [
    `  ${paint(style, severityWord(f, v))}  ${paint('bold', printable(placeName(f.place)))} at ${scenarioTime(f.t, v.zero)}  (${printable(f.watch)} watch)`,
    ...wrap(`${printable(f.quantity)} ${valueAndLimit(f)}`, width, 4),
    ...wrap(printable(f.says), width, 4),
    ...wrap(`why: ${printable(f.why)}`, width, 4, 9),
    ...wrap(`look first: ${printable(f.look)}`, width, 4, 16),
  ]
}

function sum(runs: readonly (Verdict | Unrecorded)[], notPlayed: number): string {
  const n = (outcome: Outcome): number => runs.filter((r) => 'outcome' in r && r.outcome === outcome).length
  const unrecorded = runs.filter((r) => 'problem' in r).length
  return [
    `${runs.length === 1 ? '1 run' : `${runs.length} runs`}: ${n('pass')} passed, ${n('fail')} failed, ${n('incomplete')} incomplete`,
    ...(unrecorded > 0 ? [`${unrecorded} not recorded`] : []),
    ...(notPlayed > 0 ? [`${notPlayed} not played`] : []),
  ].join(', ')
}

function painter(colour: boolean): Paint {
  return (style, text) => (colour ? `\u001b[${CODE[style]}m${text}\u001b[0m` : text)
}

function row(cells: readonly string[], columns: readonly Column[]): string {
  return cells
    .map((cell, i) => {
      const { width, right } = columns[i]!
      const most = right ? width : width - 1
      const shown = cell.length > most ? `${cell.slice(0, most - 2)}..` : cell
      return right ? shown.padStart(width) : shown.padEnd(width)
    })
    .join('')
    .trimEnd()
}

/** Names and sentences come from files: no control character may reach the terminal. */
function printable(text: string): string {
  return text.replace(/\s+/g, ' ').replace(/\p{Cc}|\p{Cs}/gu, '\ufffd')
}
