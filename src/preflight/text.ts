/** A preflight for people: one line for each thing that was looked at, then the tables. */
import type { BusTimes, MessageTime } from '../bus/bus-times.js'
import { phasesOf, type ReachReport } from '../driver/reach.js'
import type { Rig, Side } from '../files/rig.js'
import { wrap } from '../report/wrap.js'
import { showQuantity } from '../units.js'
import type { Demand, Share } from './demands.js'
import { type Check, type Line, worstLevel } from './line.js'
import type { Preflight } from './preflight.js'

/** Columns before what a line says. */
const MARGIN = 24

/** @param width columns */
export function preflightText(rig: Rig, found: Preflight, width: number): string[] {
  const { lines, unchecked, cautions, buses, reach, demands, clearance } = found
  return [
    ...lineRows(lines, width),
    ...unchecked.flatMap((says) => wrap(says, width, 0, 2)),
    ...cautions.flatMap((says) => wrap(says, width, 0, 2)),
    ...outOfReach(reach, width),
    ...buses.flatMap((bus) => busTable(bus, width)),
    ...(demands.length > 0 ? demandTable(rig, demands, width) : []),
    ...(clearance === null || clearance.length === 0 ? [] : clearanceTable(rig, clearance, width)),
  ]
}

/** Of each check and place the whole rig's lines; of the scenarios' lines the worst of each check, and who else is not well. */
function lineRows(lines: readonly Line[], width: number): string[] {
  const checks = [...new Set(lines.map(({ check }) => check))]
  const rows = checks.flatMap((check) => {
    const mine = lines.filter((line) => line.check === check)
    const always = mine.filter(({ scenarios }) => scenarios === null)
    const commanded = mine.filter(({ scenarios }) => scenarios !== null)
    return [...always.map((line) => told(line, [])), ...(commanded.length > 0 ? [worstTold(commanded)] : [])]
  })
  const count = (level: Line['level']): number => lines.filter((line) => line.level === level).length
  return [
    `Preflight: ${worstLevel(lines)}`,
    ...rows.flatMap(({ head, says }) => wrap(`${head}${says}`, width, 2, MARGIN)),
    `  ${lines.length} lines: ${count('pass')} pass, ${count('warn')} warn, ${count('fail')} fail`,
    '',
  ]
}

/** Checks whose value is a margin. */
const MARGINS: readonly Check[] = ['clearance', 'watchdog', 'guardian', 'stroke harmonic']

type Row = { readonly head: string; readonly says: string }

/** How near a line is to its limit, or beyond it; of a margin less is worse. */
function badness({ value, limit, check }: Line): number {
  if (MARGINS.includes(check)) return -value
  return limit === null ? 0 : value / limit
}

function worstTold(lines: readonly Line[]): Row {
  const level = worstLevel(lines)
  const worst = lines
    .filter((line) => line.level === level)
    .reduce((most, line) => (badness(line) > badness(most) ? line : most))
  const others = lines.filter((line) => line !== worst && line.level !== 'pass')
  return told(
    worst,
    others.flatMap(({ scenarios }) => scenarios!),
  )
}

function told({ level, check, place, says, scenarios }: Line, others: readonly string[]): Row {
  const where = place === '' ? '' : `${place}: `
  const who = scenarios === null ? '' : `; ${many(scenarios)}`
  const also = others.length === 0 ? '' : `; likewise: ${many(others)}`
  return { head: `${level}  ${check}`.padEnd(MARGIN - 2), says: `${where}${says}${who}${also}` }
}

function many(names: readonly string[]): string {
  return names.length <= 2 ? names.join(', ') : `${names[0]} and ${names.length - 1} more`
}

function outOfReach(reach: readonly ReachReport[], width: number): string[] {
  return reach.flatMap(({ arm, failures }) =>
    failures.length === 0
      ? []
      : [
          '',
          `${arm} cannot reach`,
          ...failures.flatMap((f) => wrap(`${f.motion}, ${phasesOf(f)}: ${f.reason}`, width, 2, 4)),
        ],
  )
}

/** Messages of one kind, length and period stand in one row, with the latest of them. */
function busTable({ bus, load, messages }: BusTimes, width: number): string[] {
  if (messages.length === 0) return []
  const kinds = new Map<string, MessageTime[]>()
  for (const m of messages) {
    const kind = `${m.from} ${m.use} ${m.bytes} ${m.period}`
    kinds.set(kind, [...(kinds.get(kind) ?? []), m])
  }
  const hex = (id: number): string => id.toString(16).padStart(3, '0')
  const rows = [
    ['message', 'from', 'identifiers', 'bytes', 'every', 'at worst'],
    ...[...kinds.values()].map((of) => {
      const [first, last] = [of[0]!, of.at(-1)!]
      const worst = Math.max(...of.map((m) => m.worst))
      return [
        of.length === 1 ? first.use : `${of.length} x ${first.use}`,
        first.from,
        of.length === 1 ? hex(first.id) : `${hex(first.id)}-${hex(last.id)}`,
        String(first.bytes),
        showQuantity(first.period, 's'),
        Number.isFinite(worst) ? showQuantity(worst, 's') : 'no bound',
      ]
    }),
  ]
  const title = `Bus ${bus}, ${showQuantity(load, 'share')} full: when the messages of a run are there at worst`
  return ['', ...wrap(title, width, 0, 2), '', ...inColumns(rows)]
}

function demandTable(rig: Rig, demands: readonly Demand[], width: number): string[] {
  // On a side with one arm the joint's own name says it.
  const shortOn = (side: Side): boolean => rig.arms.filter((arm) => arm.side === side).length === 1
  const share = (side: Side, part: Share | null): string => {
    if (part === null) return ''
    const joint = shortOn(side) ? part.joint.slice(part.joint.indexOf('.') + 1) : part.joint
    return `${(100 * part.share).toFixed(0).padStart(3)} % ${joint}${part.share > 1 ? ', too much' : ''}`
  }
  const rows = [
    ['scenario', 'side', 'm/s', 'most speed', 'most acceleration'],
    ...demands.flatMap((d) =>
      d.sides.map((s, i) => [
        i === 0 ? d.scenario : '',
        s.side,
        Math.abs(s.sideSpeed).toFixed(2),
        s.sideSpeed === 0 ? 'parked' : share(s.side, s.speed),
        share(s.side, s.acceleration),
      ]),
    ),
  ]
  const title = 'Fastest speed of each side, and the most that is asked of a joint, as a share of its limits'
  return ['', ...wrap(title, width, 0, 2), '', ...inColumns(rows)]
}

function clearanceTable(rig: Rig, least: NonNullable<Preflight['clearance']>, width: number): string[] {
  const limit = rig.clearance!.least
  const rows = [
    ['scenario', 'm', 'between', 'phase'],
    ...least.map(({ scenario, distance, between, phases }) => [
      scenario,
      `${distance.toFixed(3)}${distance < limit ? ', too near' : ''}`,
      between.join(', '),
      phases.map((phase) => phase.toFixed(3)).join(', '),
    ]),
  ]
  const title = `Least distance on the commands of each scenario, at least ${showQuantity(limit, 'm')}, if the arms do as the driver asks`
  return ['', ...wrap(title, width, 0, 2), '', ...inColumns(rows)]
}

function inColumns(rows: readonly string[][]): string[] {
  const widths = rows[0]!.map((_, i) => Math.max(...rows.map((r) => r[i]!.length)))
  return rows.map((r) => `  ${r.map((cell, i) => cell.padEnd(widths[i]!)).join('  ')}`.trimEnd())
}
