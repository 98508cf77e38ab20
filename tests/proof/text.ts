/** The matrix for a terminal. */
import type { Cell, EntryResult, Matrix } from './matrix.js'
import { isNone } from './matrix.js'

/** What a cell says in a few letters: caught by the watch that should, of all runs; what else. */
function cellText(c: Cell): string {
  const { caught, late, missed, defect } = c.count
  const notes = [
    late > 0 ? `${late} late` : '',
    c.count['by another'] > 0 ? `${c.count['by another']} by others` : '',
    missed > 0 ? `${missed} missed` : '',
    c.count['no effect'] > 0 ? `${c.count['no effect']} no effect` : '',
    defect > 0 ? `${defect} DEFECT` : '',
  ].filter((n) => n !== '')
  const { detected } = c
  return [`${caught}/${c.runs}`, ...(detected ? [time(detected.most)] : []), ...notes].join(' ')
}

export function time(s: number): string {
  return s < 1 ? `${(1000 * s).toFixed(0)} ms` : `${s.toFixed(2)} s`
}

function entryText({ name, expected, cells }: EntryResult): string {
  const should = isNone(expected) ? 'none' : expected
  const others = [...new Set(cells.flatMap((c) => Object.keys(c.others)))]
  const besides = others.length > 0 ? `  besides: ${others.join(', ')}` : ''
  return `  ${name.padEnd(28)} ${should.padEnd(24)} ${cells.map((c) => cellText(c).padEnd(26)).join(' ')}${besides}`
}

export function matrixText(matrix: Matrix): string {
  const { entries, falseAlarms, aims } = matrix
  const of = (kind: EntryResult['kind'], title: string): string[] => [
    '',
    title,
    `  ${''.padEnd(28)} ${'should be'.padEnd(24)} ${['small', 'nominal', 'large'].map((l) => l.padEnd(26)).join(' ')}`,
    ...entries.filter((e) => e.kind === kind).map(entryText),
  ]
  return `${[
    ...of('fault', 'Faults: caught by the watch that should, within its bound; longest time to detect'),
    ...of('driver', 'Broken drivers'),
    ...of('owner', 'Broken drivers that own the buses'),
    '',
    `Clean runs: ${falseAlarms.runs}, false alarms: ${falseAlarms.alarms.length}, at most ${(100 * falseAlarms.atMost).toFixed(2)} % at 95 %`,
    ...falseAlarms.alarms.map((a) => `  ${a.key}: ${a.says}`),
    ...falseAlarms.warnings.map((w) => `  warning ${w.watch}, ${w.quantity}: ${w.runs} runs`),
    '',
    ...aims.map(
      ({ says, met, lacks }) =>
        `${met ? 'met' : 'NOT MET'}: ${says}${lacks.length > 0 ? `: ${lacks.join(', ')}` : ''}`,
    ),
  ].join('\n')}\n`
}
