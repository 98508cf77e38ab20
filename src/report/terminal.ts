/** Verdicts for a terminal or a plain log: a table in 80 columns, and findings in full. */
import { seconds } from '../clock.js'
import type { Finding, Severity } from '../files/event.js'
import { showQuantity } from '../units.js'
import type { Outcome, Verdict } from '../verdict/verdict.js'
import { CATEGORY_MEANS } from './category.js'
import { OUTCOME_WORD, placeName, scenarioTime, valueAndLimit } from './wording.js'

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

/** The table's columns: title, width with the gap behind it, numbers to the right. */
const COLUMNS = [
  { title: 'verdict', width: 12, right: false },
  { title: 'scenario', width: 24, right: false },
  { title: 'length', width: 8, right: true },
  { title: '  ended', width: 12, right: false },
  { title: 'failures', width: 8, right: true },
  { title: 'doubts', width: 7, right: true },
  { title: 'warnings', width: 9, right: true },
] as const

/** One row a run, the reason below each that did not pass or was stopped, and a closing sum. Ends with a newline. */
export function verdictTable(verdicts: readonly Verdict[], options: TerminalOptions): string {
  const width = options.width ?? 80
  const paint = painter(options.colour)
  const rule = '-'.repeat(width)
  const lines = [paint('bold', columns(COLUMNS.map((c) => c.title))), rule]
  for (const v of verdicts) {
    const count = (severity: Severity): string => {
      // What a passed run's watches saw was the failure that the scenario is there for.
      const expected = severity === 'failure' && v.outcome === 'pass'
      const n = expected ? 0 : v.findings.filter((f) => f.severity === severity).length
      return `${n}${v.moreFindings > 0 ? '+' : ''}`
    }
    const row = columns([
      OUTCOME_WORD[v.outcome],
      printable(v.scenario),
      `${seconds(v.length).toFixed(1)} s`,
      `  ${v.ended}`,
      count('failure'),
      count('doubt'),
      count('warning'),
    ])
    const edge = COLUMNS[0].width
    lines.push(paint(OUTCOME_STYLE[v.outcome], row.slice(0, edge)) + row.slice(edge))
    if (v.outcome !== 'pass' || v.stop !== null) lines.push(...wrap(printable(reasonOf(v)), width, edge))
  }
  lines.push(rule, sum(verdicts))
  return `${lines.join('\n')}\n`
}

/** One cause can show in every joint: the first findings say enough for a screen. */
const MOST_SHOWN = 6

/** What one run's watches saw, and its stop: joint, scenario time, value and limit, what to look at first. Empty when there is nothing to say. */
export function findingsBlock(v: Verdict, options: TerminalOptions): string {
  const width = options.width ?? 80
  const paint = painter(options.colour)
  const unmet = v.expectations.filter((e) => !e.met)
  if (v.findings.length === 0 && v.stop === null && unmet.length === 0) return ''
  const lines = [paint('bold', printable(v.scenario))]
  for (const e of unmet) {
    lines.push(...wrap(`not as expected: ${printable(e.expected)}`, width, 2, 4))
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
  }
  for (const f of v.findings.slice(0, MOST_SHOWN)) lines.push(...findingLines(f, v, width, paint))
  const more = Math.max(0, v.findings.length - MOST_SHOWN) + v.moreFindings
  if (more > 0) lines.push(`  and ${more} more findings, all of them in report.html`)
  return `${lines.join('\n')}\n`
}

/** The sentence without the outcome before it, which the row says already. */
function reasonOf(v: Verdict): string {
  return v.sentence.replace(/^(Pass|Fail|Incomplete): /, '')
}

function findingLines(f: Finding, v: Verdict, width: number, paint: Paint): string[] {
  const style = f.severity === 'failure' ? 'red' : 'yellow'
  return [
    `  ${paint(style, f.severity)}  ${paint('bold', printable(placeName(f.place)))} at ${scenarioTime(f.t, v.zero)}  (${printable(f.watch)} watch)`,
    ...wrap(`${printable(f.quantity)} ${valueAndLimit(f)}`, width, 4),
    ...wrap(printable(f.says), width, 4),
    ...wrap(`why: ${printable(f.why)}`, width, 4, 9),
    ...wrap(`look first: ${printable(f.look)}`, width, 4, 16),
  ]
}

function sum(verdicts: readonly Verdict[]): string {
  const n = (outcome: Outcome): number => verdicts.filter((v) => v.outcome === outcome).length
  const runs = verdicts.length === 1 ? '1 run' : `${verdicts.length} runs`
  return `${runs}: ${n('pass')} passed, ${n('fail')} failed, ${n('incomplete')} incomplete`
}

function painter(colour: boolean): Paint {
  return (style, text) => (colour ? `\u001b[${CODE[style]}m${text}\u001b[0m` : text)
}

function columns(cells: readonly string[]): string {
  return cells
    .map((cell, i) => {
      const { width, right } = COLUMNS[i]!
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

/** Breaks at blanks; words longer than a line are broken hard. @param hang indent of all lines but the first */
function wrap(text: string, width: number, indent: number, hang = indent): string[] {
  const lines: string[] = []
  let line = ' '.repeat(indent)
  let empty = true
  const close = (): void => {
    lines.push(line)
    line = ' '.repeat(hang)
    empty = true
  }
  for (let word of text.split(' ')) {
    if (!empty && line.length + 1 + word.length > width) close()
    while (line.length + word.length > width) {
      const fits = width - line.length
      line += word.slice(0, fits)
      word = word.slice(fits)
      close()
    }
    line += empty ? word : ` ${word}`
    empty = false
  }
  lines.push(line)
  return lines
}
