/** The page of an envelope: one file, no script, nothing loaded from anywhere. */
import type { Study } from '../../motion/cruise.js'
import { allInside, type Boundary, differ, type Envelope } from '../../motion/envelope.js'
import { CAUTIONS } from '../../verdict/cautions.js'
import {
  approachTold,
  ENVELOPE_CAUTION,
  greatestSurge,
  greatestYaw,
  limitsNamed,
  limitTold,
  outcomeTold,
  shareTold,
  stretchesOf,
  surgeTold,
  waterMatters,
  waterTold,
  yawTold,
} from '../envelope-words.js'
import { STRAINS, sideRow, startTold } from '../side-rows.js'
import { CRUISE_LOOK, cruiseSection } from './cruise.js'
import { pageOf } from './document.js'
import { dashOf, envelopeChart, type Lettered, lettered } from './envelope-chart.js'
import { phrase } from './phrase.js'
import { facts, list, section, table } from './table.js'

const LOOK = `
.chart { display: grid; grid-template-columns: minmax(0, 38rem) minmax(16rem, 1fr); gap: 1rem 2rem; align-items: start; }
.chart .key { display: block; } .chart .key li { align-items: flex-start; margin: .45rem 0; } .chart .key svg { width: 3.4rem; height: 1.4rem; }
svg .inside { fill: var(--shade); stroke: none; }
svg .edge { fill: none; stroke: var(--feedback); stroke-width: 2.6; stroke-linejoin: round; }
svg .dry { fill: none; stroke: var(--doubt); stroke-width: 1.4; stroke-dasharray: 3 3; stroke-linejoin: round; }
svg .badge { fill: var(--sheet); stroke: var(--feedback); stroke-width: 1.4; } svg .numeral { fill: var(--ink); font-weight: 700; }
svg .command { fill: var(--ink); stroke: var(--sheet); stroke-width: 1; } svg .outside { fill: none; stroke: var(--bad); stroke-width: 2.6; stroke-linecap: round; }
svg .letter { fill: var(--ink); font-weight: 600; }
@media screen and (max-width: 60rem) { .chart { grid-template-columns: minmax(0, 1fr); } }
@media print { .chart { grid-template-columns: 11cm minmax(0, 1fr); } }
`

/** In a cell without a figure. */
const NOTHING = '\u2013'

/** Everything that comes from files is escaped. @param scenarios how many were given */
export function envelopeHtml(
  envelope: Study,
  about: { readonly rigFile: string; readonly scenarios: number; readonly notes: readonly string[] },
): string {
  const title = `Envelope of ${envelope.rig}`
  const commands = lettered(envelope.commands)
  return pageOf(
    title,
    `${head(title, envelope, about)}${chart(envelope, commands)}${envelope.cruise === null ? '' : cruiseSection(envelope.cruise)}${named(envelope)}${sides(envelope)}${commandTable(commands)}${section(
      'assumptions',
      'What the figures rest on',
      list([...envelope.assumptions, ...about.notes]),
    )}${section('cautions', 'Cautions', list([ENVELOPE_CAUTION, ...CAUTIONS]))}`,
    `${LOOK}${envelope.cruise === null ? '' : CRUISE_LOOK}`,
  )
}

function head(
  title: string,
  envelope: Study,
  { rigFile, scenarios }: { readonly rigFile: string; readonly scenarios: number },
): string {
  /** What dry land and water both bear. */
  const at = (name: string): Boundary => {
    const { dry, afloat } = envelope.named.find((n) => n.name === name)!
    return afloat !== null && afloat.length < dry.length ? afloat : dry
  }
  const { cruise } = envelope
  const good = allInside(envelope) && (cruise === null || cruise.placed.share <= 1)
  return (
    `<header class="${good ? 'pass' : 'fail'}">\n<h1>${phrase(title)}</h1>\n` +
    `<p class="lead">${phrase(outcomeTold(envelope, scenarios))}</p>\n` +
    facts([
      ['Ahead', greatestSurge(at('ahead').surge)],
      ['Astern', greatestSurge(-at('astern').surge)],
      ['Pivot to port', greatestYaw(at('pivot to port').yaw)],
      ['Pivot to starboard', greatestYaw(-at('pivot to starboard').yaw)],
      ['Rig file', rigFile],
    ]) +
    `<p class="soft">${phrase(waterTold(envelope))}</p>\n<p class="soft">${phrase(approachTold(envelope))}</p>\n<p class="notice">${phrase(ENVELOPE_CAUTION)}</p>\n</header>\n`
  )
}

function chart(envelope: Study, commands: readonly Lettered[]): string {
  const sample = (inner: string): string => `<svg viewBox="0 0 54 22" aria-hidden="true">${inner}</svg>`
  const item = (inner: string, words: string): string =>
    `<li>${sample(inner)}<span>${phrase(words)}</span></li>`
  const { boundary, afloat, cruise } = envelope
  const apart = waterMatters(envelope)
  const edges = stretchesOf({ boundary: apart ? afloat! : boundary }).map(({ limit }, i) =>
    item(
      `<line class="edge" x1="0" x2="32" y1="11" y2="11" stroke-dasharray="${dashOf(i)}"/><circle class="badge" cx="43" cy="11" r="9.5"/><text class="numeral" x="43" y="15" text-anchor="middle">${i + 1}</text>`,
      limitTold(limit),
    ),
  )
  const dry = stretchesOf({ boundary }).map(({ limit }) => limit)
  const marks = [
    ...(commands.length > 0
      ? [
          item(
            '<circle class="command" cx="27" cy="11" r="3.6"/>',
            'a command inside; its letter is that of the table of commands',
          ),
          ...(commands.some(({ command }) => command.share > 1)
            ? [item('<path class="outside" d="M22 6l10 10m0 -10l-10 10"/>', 'a command outside')]
            : []),
        ]
      : []),
    ...(cruise === null
      ? []
      : [item('<path class="cruise-mark" d="M27 4l7 7l-7 7l-7 -7z"/>', 'the command of the cruise')]),
  ]
  const thin = item('<line class="dry" x1="0" x2="50" y1="11" y2="11"/>', limitsNamed(dry))
  const key =
    `<h3>Gives out first${apart ? ', afloat' : ''}</h3><ul class="key">${edges.join('')}</ul>` +
    (apart ? `<h3>On dry land: the thin line</h3><ul class="key">${thin}</ul>` : '') +
    (marks.length > 0 ? `<h3>Commands</h3><ul class="key">${marks.join('')}</ul>` : '')
  const caption = `Inside the line a steady stroke is borne${apart ? ' afloat' : ''}<span>along each numbered part of it this gives out first</span>`
  const body = `<div class="chart"><figure><figcaption>${caption}</figcaption>${envelopeChart(envelope, commands)}</figure><div>${key}</div></div>`
  return section('envelope', 'Envelope', body)
}

function named({ named: all }: Envelope): string {
  const columns = [
    { title: 'Direction' },
    { title: 'Surge', look: 'nowrap' },
    { title: 'Yaw rate', look: 'nowrap' },
    { title: 'Port and starboard side', look: 'nowrap' },
    { title: 'Gives out first' },
  ]
  const row = (name: string, b: Boundary, where?: string): string[] => [
    where === undefined ? phrase(name) : `${phrase(name)}<br><small>${where}</small>`,
    b.length === 0 ? 'none' : greatestSurge(b.surge),
    b.length === 0 ? 'none' : greatestYaw(b.yaw),
    `${greatestSurge(b.port)}<br>${greatestSurge(b.starboard)}`,
    phrase(limitsNamed(b.limits)),
  ]
  const rows = all.flatMap(({ name, ...ends }) =>
    differ(ends)
      ? [row(name, ends.dry, 'on dry land'), row(name, ends.afloat!, 'afloat')]
      : [row(name, ends.dry)],
  )
  return section(
    'named',
    'Greatest commands',
    table('How far out, and what gives out first there', columns, rows, 'stack'),
  )
}

function sides({ sides: all }: Envelope): string {
  const columns = [
    { title: 'Side' },
    { title: 'Speed, m/s' },
    { title: 'Strokes a minute' },
    ...STRAINS.map(([, item]) => ({ title: item })),
  ]
  const rows = all.map((limit) => {
    const { speed, cadence, strains } = sideRow(limit)
    return [
      phrase(`${limit.side}, ${limit.way}${limit.afloat ? ', afloat' : ''}`),
      speed,
      cadence ?? NOTHING,
      ...strains.map((strain) =>
        strain === null ? NOTHING : `${phrase(strain[0])}<small>${phrase(strain[1])}</small>`,
      ),
    ]
  })
  const caption = `What a stroke of full length at that speed asks, as a share of each limit, and of which joint${startTold(all)}`
  return section(
    'sides',
    'Each side at its own limit',
    `<p>${phrase(caption)}.</p>${table(caption, columns, rows, 'numbers')}`,
  )
}

function commandTable(commands: readonly Lettered[]): string {
  if (commands.length === 0) return ''
  const columns = [
    { title: 'Mark', look: 'nowrap' },
    { title: 'Surge', look: 'nowrap' },
    { title: 'Yaw rate', look: 'nowrap' },
    { title: 'Of the way to the boundary', look: 'nowrap' },
    { title: 'Beyond it gives out' },
    { title: 'Scenarios' },
  ]
  const rows = commands.map(({ letter, command: c, scenarios }) => [
    letter,
    surgeTold(c.surge),
    yawTold(c.yaw),
    `${shareTold(c.share)} <span class="${c.share <= 1 ? 'good' : 'bad'}">${c.share <= 1 ? 'inside' : 'outside'}</span>`,
    phrase(limitsNamed(c.boundary.limits)),
    phrase(scenarios.join(', ')),
  ])
  return section(
    'commands',
    'Commands of the scenarios',
    table('The farthest out first', columns, rows, 'stack'),
  )
}
