/** The page's sections in words and tables. */
import { nanos, seconds } from '../../clock.js'
import type { Figure, Finding } from '../../files/event.js'
import { faultPlace } from '../../files/faults/catalogue.js'
import { showBeside, showQuantity } from '../../units.js'
import { SIMULATED_CAUTION, STAND_IN_CAUTION } from '../../verdict/cautions.js'
import { EDITION, ORIGIN, SEPARATION_CAUTION, showMillimetres } from '../../verdict/separation.js'
import type { Verdict } from '../../verdict/verdict.js'
import { CATEGORY_MEANS } from '../category.js'
import { escaped } from '../markup.js'
import { separationAid } from '../separation.js'
import {
  escalationTold,
  expectationWord,
  findingCount,
  isExpected,
  OUTCOME_WORD,
  placeName,
  scenarioTime,
  severityWord,
  valueAndLimit,
} from '../wording.js'
import { commandFigure } from './command-plot.js'
import type { Mark } from './panel.js'
import { phrase } from './phrase.js'
import type { ReportInput } from './run.js'
import { facts, list, section, table } from './table.js'

export function head(run: ReportInput): string {
  const { verdict: v, scenario, provenance } = run
  const arms = provenance?.arms ?? 'simulated'
  const caution = arms === 'real' ? null : arms === 'stand-in' ? STAND_IN_CAUTION : SIMULATED_CAUTION
  const simulated = caution === null ? '' : `<p class="notice">${phrase(caution)}</p>\n`
  return (
    `<header class="${v.outcome}">\n<h1>${phrase(v.scenario)} on ${phrase(v.rig)}</h1>\n` +
    `<p class="outcome">${OUTCOME_WORD[v.outcome]}</p>\n<p class="lead">${phrase(v.sentence)}</p>\n` +
    `<p class="soft">${phrase(scenario.about)}</p>\n` +
    facts([
      ['Findings', findingCount(v)],
      ['Ended', v.ended],
      ['Length', `${seconds(v.length).toFixed(1)} s`],
      ['Seed', String(v.seed)],
      ['Arms', arms],
    ]) +
    simulated +
    '<nav aria-label="Parts of this page"><a href="#expectations">Expectations</a><a href="#findings">Findings</a>' +
    '<a href="#script">Script</a><a href="#joints">Joints</a><a href="#figures">Figures</a><a href="#settings">Settings</a>' +
    '<a href="#separation">Separation</a><a href="#cautions">Cautions</a><a href="#provenance">Provenance</a></nav>\n</header>\n'
  )
}

const EXPECTATION_LOOK = { met: 'good', 'not met': 'bad', 'not shown': 'doubt' } as const

export function expectations(v: Verdict): string {
  if (v.expectations.length === 0)
    return section('expectations', 'Expectations', '<p>The scenario states none.</p>')
  const rows = v.expectations.map((e) => [
    phrase(e.expected),
    phrase(e.found),
    `<span class="${EXPECTATION_LOOK[expectationWord(e.met, v)]}">${expectationWord(e.met, v)}</span>`,
  ])
  const columns = [{ title: 'Expected' }, { title: 'Found' }, { title: 'Result', look: 'nowrap' }]
  return section(
    'expectations',
    'Expectations',
    table('What the scenario expects, and what came', columns, rows, 'stack'),
  )
}

export function stopSection(v: Verdict): string {
  if (v.stop === null) return ''
  const { source, place, category, t, says, escalation, toStill } = v.stop
  const body =
    `<p>${phrase(says)}</p>` +
    facts([
      ['Asked for by', source],
      ['Place', placeName(place)],
      ['Scenario time', scenarioTime(t, v.zero)],
      [
        'Time to still',
        toStill === null ? 'not all joints came to rest, or feedback was lost' : showQuantity(toStill, 's'),
      ],
      ['Category', `${category} (${CATEGORY_MEANS[category]})`],
      ...(escalation === null
        ? []
        : ([
            ['Then', escalationTold(escalation, v.zero)],
            ['Category', `${escalation.category} (${CATEGORY_MEANS[escalation.category]})`],
          ] as const)),
    ])
  return section('stop', 'Stop', body)
}

export function findings(v: Verdict): string {
  if (v.findings.length === 0) return section('findings', 'Findings', '<p>No watch reported anything.</p>')
  const rows = v.findings.map((f, i) => findingRow(f, i + 1, v))
  const columns = [
    { title: '#', look: 'nowrap' },
    { title: 'Severity' },
    { title: 'Joint or place' },
    { title: 'Scenario time', look: 'nowrap' },
    { title: 'Value and limit' },
    { title: 'What, why, and what to look at first' },
  ]
  const more = v.moreFindings === 0 ? '' : `<p>And ${v.moreFindings} more findings.</p>`
  return section(
    'findings',
    'Findings',
    table('In order of time; the numbers are those in the pictures', columns, rows, 'stack') + more,
  )
}

function findingRow(f: Finding, n: number, v: Verdict): string[] {
  const [value, limit] = showBeside(f.value, f.limit, f.unit)
  return [
    `#${n}`,
    `<span class="${isExpected(f, v) ? 'expected' : f.severity}">${severityWord(f, v)}</span>`,
    phrase(placeName(f.place)),
    phrase(scenarioTime(f.t, v.zero)),
    // One column for the three leaves room for the words.
    `${phrase(f.quantity)}<br><strong>${phrase(value)}</strong><br><span class="nowrap">limit ${phrase(limit)}</span>`,
    `${phrase(f.says)}<br><span class="soft">${phrase(f.why)}</span><br><strong>Look first:</strong> ${phrase(f.look)} <span class="soft">(${phrase(f.watch)} watch)</span>`,
  ]
}

/** Commands, faults and operator actions in order of time, and the picture of the command. */
export function script(run: ReportInput): string {
  const { scenario, verdict } = run
  const { stop, zero } = verdict
  const stopped: Mark[] =
    stop === null || zero === null
      ? []
      : [{ t: stop.t - zero, look: 'stop', label: 'stop', title: `stop by ${stop.source}` }]
  const happenings: Mark[] = [
    ...scenario.faults.map(
      (f): Mark => ({
        t: nanos(Math.max(0, f.at)),
        look: 'fault',
        label: f.fault,
        title: `fault: ${f.fault}, ${faultPlace(f, run.rig)}`,
      }),
    ),
    ...scenario.operator.map(
      (o): Mark => ({ t: nanos(o.at), look: 'fault', label: o.action, title: `operator: ${o.action}` }),
    ),
    ...stopped,
  ]
  const rows = scriptRows(run)
  const columns = [{ title: 'Scenario time', look: 'nowrap' }, { title: 'What' }, { title: 'Detail' }]
  const body =
    `<div class="joints"><div>${commandFigure(scenario, happenings)}${stageLine(run)}</div>` +
    `<div>${table(`The script, ${scenario.duration} s long`, columns, rows, 'stack')}</div></div>`
  return section('script', 'Script', body)
}

function scriptRows({ scenario, rig }: ReportInput): string[][] {
  const rows: { at: number; what: string; detail: string }[] = [
    ...scenario.commands.map((c) => ({
      at: c.at,
      what: 'command',
      detail: `surge ${showQuantity(c.surge, 'm/s')}, yaw ${showQuantity(c.yaw, 'rad/s')}${c.over > 0 ? `, reached over ${showQuantity(c.over, 's')}` : ''}`,
    })),
    ...scenario.faults.map((f) => ({
      at: f.at,
      what: `fault: ${f.fault}`,
      detail: `${faultPlace(f, rig)}${Number.isFinite(f.lasts) ? `, for ${showQuantity(f.lasts, 's')}` : ', to the end'}`,
    })),
    ...scenario.operator.map((o) => ({ at: o.at, what: 'operator', detail: o.action })),
  ]
  rows.sort((a, b) => a.at - b.at)
  return rows.map((r) => [
    Number.isFinite(r.at) ? `${r.at.toFixed(3)} s` : 'from the start',
    phrase(r.what),
    phrase(r.detail),
  ])
}

function stageLine(run: ReportInput): string {
  if (run.stages.length === 0) return ''
  const { zero } = run.verdict
  const pairs = run.stages.map((s) => [s.stage, `at ${scenarioTime(s.t, zero)}`] as const)
  return `<h3>Stages of the run</h3>${facts(pairs)}`
}

/** Figures in one table that goes on a sheet of paper, each as wide as `limit 1500 deg/s2`. */
const MOST_COLUMNS = 6

/** Tables of each watch: a row a place, a column a figure. */
export function figures(v: Verdict): string {
  const parts = v.watches.map((w) => {
    const body = w.figures.length === 0 ? '<p>No figures.</p>' : pivot(w.watch, w.figures)
    return `<div><h3>${phrase(w.watch)}</h3>\n${body}</div>\n`
  })
  const all = parts.length === 0 ? '<p>No watch ran.</p>' : `<div class="watches">${parts.join('')}</div>\n`
  return section('figures', 'Figures of the watches', all)
}

function pivot(watch: string, all: readonly Figure[]): string {
  const names = [...new Set(all.map((f) => f.name))]
  // What only the rig as a whole has would be a column of empty cells.
  const ofRig = names.filter((name) => all.every((f) => f.name !== name || f.place === ''))
  const whole = all.filter((f) => ofRig.includes(f.name))
  const tables = unrelated(all.filter((f) => !ofRig.includes(f.name))).flatMap(tablesOf)
  const caption = (i: number) =>
    tables.length === 1
      ? `Figures of the ${watch} watch`
      : `Figures of the ${watch} watch, ${i + 1} of ${tables.length}`
  return (
    (whole.length === 0 ? '' : facts(whole.map((f) => [f.name, valueAndLimit(f)] as const))) +
    tables.map(({ heads, rows }, i) => table(caption(i), heads, rows, 'numbers')).join('')
  )
}

/** Figures that share neither place nor name stand in tables of their own: of arms, and of their joints, say. */
function unrelated(all: readonly Figure[]): Figure[][] {
  const groups: Figure[][] = []
  for (const f of all) {
    const near = groups.filter((group) => group.some((g) => g.place === f.place || g.name === f.name))
    const [first, ...others] = near
    if (first === undefined) groups.push([f])
    else first.push(...others.flat(), f)
    for (const other of others) groups.splice(groups.indexOf(other), 1)
  }
  return groups
}

/** As many tables of one kind as it takes for each to go on a sheet of paper. */
function tablesOf(all: readonly Figure[]) {
  const names = [...new Set(all.map((f) => f.name))]
  const places = [...new Set(all.map((f) => f.place))]
  const most = Math.ceil(names.length / Math.ceil(names.length / MOST_COLUMNS))
  return Array.from({ length: Math.ceil(names.length / most) }, (_, i) => {
    const columns = names.slice(i * most, (i + 1) * most)
    const rows = places.map((place) => [
      phrase(placeName(place)),
      ...columns.map((name) => {
        const f = all.find((g) => g.name === name && g.place === place)
        return f === undefined ? '' : figureCell(f)
      }),
    ])
    return { heads: [{ title: 'Place' }, ...columns.map((title) => ({ title }))], rows }
  })
}

function figureCell(f: Figure): string {
  if (f.limit === null) return phrase(showQuantity(f.value, f.unit))
  const [value, limit] = showBeside(f.value, f.limit, f.unit)
  return `${phrase(value)}<small>limit ${phrase(limit)}</small>`
}

export function separationSection(run: ReportInput): string {
  const aid = separationAid(run.rig, run.provenance)
  if (aid.overall === null) return section('separation', 'Separation distance', `<p>${phrase(aid.lacks)}</p>`)
  const { overall, distances } = aid
  const columns = [{ title: 'Detection capability' }, { title: 'Distance' }]
  const rows = distances.map(({ detection, shown }) => [showMillimetres(detection), shown])
  const body =
    facts([
      ['Edition', EDITION],
      ['Overall stopping time', showQuantity(overall.time, 's', 4)],
      ['Stop', `hard-wired, ${ORIGIN[overall.origin]}`],
      ['Source', overall.source],
    ]) +
    table('Separation distance by what the protective device detects', columns, rows, 'numbers') +
    `<p class="notice">${phrase(SEPARATION_CAUTION)}</p>`
  return section('separation', 'Separation distance', body)
}

export function cautions({ verdict }: ReportInput): string {
  return section('cautions', 'Cautions', list(verdict.cautions))
}

export function provenance(run: ReportInput): string {
  const p = run.provenance
  if (p === null) return section('provenance', 'Provenance', '<p>The recording has no provenance file.</p>')
  const body = facts(
    [
      ['Started', p.started],
      ['Ended', p.ended ?? 'not recorded'],
      ['Machine', `${p.host}, ${p.platform}`],
      ['Node', p.node],
      ['Drystroke', p.drystroke],
      ['Rig file', p.rigFile],
      ['Scenario file', p.scenarioFile],
      ['Arguments', p.arguments.join(' ')],
    ],
    escaped,
  )
  return section(
    'provenance',
    'Provenance',
    `<p>Where and when this run was made. The verdict does not rest on any of it.</p>${body}`,
  )
}
