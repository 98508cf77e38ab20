/** The page of a proof: one file, no script, nothing loaded from anywhere; in the look of the other reports. */
import { escaped } from '../../src/report/markup.js'
import { pageOf } from '../../src/report/page/document.js'
import { phrase } from '../../src/report/page/phrase.js'
import { facts, list, section, table } from '../../src/report/page/table.js'
import {
  type Alarm,
  type Cell,
  type EntryResult,
  isNone,
  type Matrix,
  STATUSES,
  type Status,
} from './matrix.js'
import { time } from './text.js'
import { TOLERANCE } from './tolerances.js'

const LOOK = `
td p { margin: 0; } td .soft { display: block; }
.count { font-weight: 700; }
`

const LOOKS: Readonly<Record<Status, string>> = {
  caught: 'good',
  late: 'doubt',
  'by another': 'doubt',
  missed: 'bad',
  'no effect': 'bad',
  defect: 'bad',
}

const TOLD: Readonly<Record<Status, string>> = {
  caught: 'caught',
  late: 'caught, later than its bound',
  'by another': 'found, not by the watch that should',
  missed: 'not found',
  'no effect': 'never came up',
  defect: 'a defect of ours',
}

const SET_TOLD = {
  tuning: 'These are the seeds on which thresholds may be set.',
  'held-out':
    'These seeds are held out: no threshold is set by what they show. Those on which thresholds may be set are others.',
} as const

const percent = (share: number, digits = 2): string => `${(100 * share).toFixed(digits)} %`
const millimetres = (m: number): string => `${(1000 * m).toFixed(0)} mm`
const several = (n: number, what: string): string => `${n} ${what}${n === 1 ? '' : 's'}`

/** Everything is escaped that does not stand in this file. */
export function proofHtml(matrix: Matrix): string {
  return pageOf(
    'Proof of the watches',
    `${head(matrix)}${aims(matrix)}${notCaught(matrix)}${results(matrix, 'fault', 'Faults')}${results(matrix, 'driver', 'Broken drivers')}${results(matrix, 'owner', 'Broken drivers that own the buses')}${alarms(matrix)}${bounds(matrix)}${made(matrix)}`,
    LOOK,
  )
}

function head(matrix: Matrix): string {
  const { aims: all, runs, falseAlarms, entries, set } = matrix
  const met = all.filter((a) => a.met).length
  const state = runs.done < runs.planned ? 'incomplete' : met === all.length ? 'pass' : 'fail'
  const word = { pass: 'All aims met', fail: 'Not all aims met', incomplete: 'Not all runs done' }[state]
  const of = (kind: EntryResult['kind']): number => entries.filter((e) => e.kind === kind).length
  return (
    `<header class="${state}">\n<h1>Proof of the watches</h1>\n<p class="outcome">${word}</p>\n` +
    `<p class="lead">Every fault and every broken driver is played at three severities to simulated arms, and besides them runs in which nothing is wrong: do the watches that should catch what is wrong, and stay quiet where nothing is?</p>\n` +
    facts([
      ['Seeds', set],
      ['Faults', String(of('fault'))],
      ['Broken drivers', String(of('driver'))],
      ['Broken owners of the buses', String(of('owner'))],
      ['Clean runs', String(falseAlarms.runs)],
      ['False alarms', String(falseAlarms.alarms.length)],
      ['Runs', `${runs.done} of ${runs.planned}`],
      ['Defects', String(runs.defects)],
    ]) +
    `<p class="soft">${SET_TOLD[set]}</p>\n` +
    '<nav aria-label="Parts of this page"><a href="#aims">Aims</a><a href="#not-caught">Not caught</a><a href="#fault">Faults</a><a href="#driver">Broken drivers</a><a href="#owner">Owners of the buses</a>' +
    '<a href="#alarms">False alarms</a><a href="#bounds">Severities and bounds</a><a href="#made">How it was made</a></nav>\n</header>\n'
  )
}

function aims({ aims: all }: Matrix): string {
  const columns = [{ title: 'Aim' }, { title: 'Result', look: 'nowrap' }, { title: 'Lacking' }]
  const rows = all.map(({ says, met, lacks }) => [
    escaped(says),
    `<span class="${met ? 'good' : 'bad'}">${met ? 'met' : 'not met'}</span>`,
    lacks.length === 0 ? '\u2013' : escaped(lacks.join(', ')),
  ])
  return section('aims', 'Aims', table('What the proof is to show', columns, rows, 'stack'))
}

/** Whatever was not caught by the watch that should, whatever else saw it. */
function notCaught({ entries }: Matrix): string {
  const rows = entries.flatMap((e) =>
    isNone(e.expected)
      ? []
      : e.cells.flatMap((c) => {
          const lacking = STATUSES.filter((s) => s !== 'caught' && c.count[s] > 0)
          if (lacking.length === 0 && c.runs > 0) return []
          return [
            [
              escaped(e.name),
              c.level,
              escaped(e.expected),
              c.runs === 0
                ? 'not run'
                : lacking
                    .map((s) => `<span class="${LOOKS[s]}">${c.count[s]} of ${c.runs} ${TOLD[s]}</span>`)
                    .join('; '),
              escaped(Object.keys(c.others).join(', ')) || '\u2013',
            ],
          ]
        }),
  )
  const columns = [
    { title: 'Entry' },
    { title: 'Severity', look: 'nowrap' },
    { title: 'Should be caught by' },
    { title: 'What came of it' },
    { title: 'Seen by' },
  ]
  const body =
    rows.length === 0
      ? '<p>Everything was caught by the watch that should, within its bound.</p>'
      : table('What was not caught as it should be', columns, rows, 'stack')
  return section('not-caught', 'Not caught', body)
}

function results({ entries }: Matrix, kind: EntryResult['kind'], title: string): string {
  const columns = [
    { title: 'Entry' },
    { title: 'Should be caught by' },
    { title: 'Small' },
    { title: 'Nominal' },
    { title: 'Large' },
    { title: 'Bound, nominal', look: 'nowrap' },
    { title: 'To the stop', look: 'nowrap' },
    { title: 'To still', look: 'nowrap' },
    { title: 'Blade off by', look: 'nowrap' },
    { title: 'Seen by others' },
  ]
  const rows = entries
    .filter((e) => e.kind === kind)
    .map((e) => {
      const stops = e.cells.flatMap((c) => c.stopped ?? [])
      const still = stops.flatMap((s) => s.toStill ?? [])
      const others = new Set(e.cells.flatMap((c) => Object.keys(c.others)))
      return [
        `${escaped(e.name)}${kind !== 'fault' ? `<small class="soft"><br>${escaped(e.what)}</small>` : ''}`,
        escaped(e.expected),
        ...e.cells.map(cellHtml),
        time(e.cells[1]!.bound),
        stops.length === 0 ? '\u2013' : time(Math.max(...stops.map((s) => s.most))),
        still.length === 0 ? '\u2013' : time(Math.max(...still)),
        millimetres(Math.max(...e.cells.map((c) => c.excursion))),
        others.size === 0 ? '\u2013' : escaped([...others].join(', ')),
      ]
    })
  const caption =
    'Runs in which the watch that should caught it in time, of all; the median and longest time to detect; greatest values of all severities'
  return section(kind, title, table(caption, columns, rows, 'stack'))
}

function cellHtml(c: Cell): string {
  if (c.runs === 0) return '<span class="bad">not run</span>'
  const whole = c.count.caught === c.runs
  const counts = STATUSES.filter((s) => s !== 'caught' && c.count[s] > 0).map(
    (s) => `<br><span class="${LOOKS[s]}">${c.count[s]} ${s}</span>`,
  )
  const { detected, strongest } = c
  const times =
    detected === null
      ? ''
      : `<small class="soft">${phrase(`${time(detected.median)}, ${time(detected.most)}`)}${strongest === 'failure' ? '' : ` (${strongest})`}</small>`
  return `<span class="${whole ? 'good' : 'count'}">${c.count.caught} of ${c.runs}</span>${counts.join('')}${times}`
}

function alarms({ falseAlarms: { runs, alarms: all, atMost, warnings, afloat } }: Matrix): string {
  const told = ({ says, findings }: Alarm): string =>
    [
      says,
      ...findings.slice(0, 3).map((f) => `${f.watch}: ${f.place} ${f.quantity} at ${f.t.toFixed(2)} s`),
    ].join(' ')
  const body =
    `<p>${several(all.length, 'false alarm')} in ${several(runs, 'clean run')}: with a confidence of 95 % at most ${percent(atMost)} of such runs give one.${afloatTold(afloat)}</p>` +
    (all.length === 0
      ? ''
      : table(
          'Clean runs that did not pass',
          [{ title: 'Run', look: 'nowrap' }, { title: 'What was found' }],
          all.map((a) => [escaped(a.key), escaped(told(a))]),
          'stack',
        )) +
    (warnings.length === 0
      ? '<p>None gave a warning.</p>'
      : table(
          'Warnings in clean runs, which pass all the same',
          [{ title: 'Watch' }, { title: 'Quantity' }, { title: 'Runs', look: 'nowrap' }],
          warnings.map((w) => [escaped(w.watch), escaped(w.quantity), String(w.runs)]),
          'stack',
        ))
  return section('alarms', 'Where nothing is wrong', body)
}

function afloatTold({ runs, way, fastest }: Matrix['falseAlarms']['afloat']): string {
  if (runs === 0) return ''
  const gone =
    way === null || fastest === null
      ? 'nothing tells where the craft went'
      : `the craft made good ${way.map((m) => m.toFixed(1)).join(' to ')} m, and its fastest was ${fastest.map((v) => v.toFixed(2)).join(' to ')} m/s`
  return ` ${phrase(`${several(runs, 'run')} of these ${runs === 1 ? 'was' : 'were'} afloat: ${gone}.`)}`
}

function bounds({ entries }: Matrix): string {
  const columns = [
    { title: 'Entry' },
    { title: 'Severity counts' },
    { title: 'Small, nominal, large' },
    { title: 'Bound at each', look: 'nowrap' },
    { title: 'Why by then' },
  ]
  const number = (v: number): string => (Number.isFinite(v) ? String(Number(v.toPrecision(3))) : 'to the end')
  const rows = entries.map((e) => [
    escaped(e.name),
    escaped(e.unit),
    e.cells.map((c) => number(c.severity)).join('<br>'),
    e.cells.map((c) => time(c.bound)).join('<br>'),
    escaped(e.why),
  ])
  return section(
    'bounds',
    'Severities and bounds',
    table("Formulas in the rig's own units, worked out for the demo rig", columns, rows, 'stack'),
  )
}

function made({ seeds, clean, thresholds, digest }: Matrix): string {
  return section(
    'made',
    'How it was made',
    list([
      `Each entry is played on ${several(seeds, 'seed')} at each severity. A seed draws the commands and the simulated arms: position loop, delay, jitter and noise of each joint up to ${percent(TOLERANCE, 0)} off what the rig says, and where it stands at power-on. The watches are given the rig as it is written.`,
      `${several(clean, 'clean run')} draw their rig too: the demo rig with free and with coupled sides, arms that speak frames of their own, arms from a URDF file; some are afloat. Commands are any within the envelope, at least 20 s and five strokes long. The runs of the entries without what is wrong with them may give a false alarm too, and do not count as clean runs.`,
      'A finding counts for an entry when it comes after the wrong began and the same run with nothing wrong does not have it. The time to detect begins at the fault, or at the first setpoint that differs from those of the sound driver; of a driver that owns the buses, at whatever else it does wrong, or as it hears of the stop that it does not obey.',
      'The blade is off by the distance of its true centre from where the sound driver would have it, from the beginning of the wrong to the end of the run; what joints lag behind their setpoints by is part of it, about 30 mm.',
      'The arms are simulated, and dry unless it is said: real arms differ from them in more than these draws show.',
      `Thresholds ${thresholds.slice(0, 16)}, code and rigs ${digest.slice(0, 16)} (SHA-256).`,
    ]),
  )
}
