/** The envelope of commands for a terminal. */
import type { Study } from '../motion/cruise.js'
import { type Boundary, differ, type Envelope, type SideLimit } from '../motion/envelope.js'
import { cruiseLines } from './cruise.js'
import {
  approachTold,
  DIRECTIONS_TOLD,
  ENVELOPE_CAUTION,
  farthest,
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
} from './envelope-words.js'
import { STRAINS, sideRow, startTold } from './side-rows.js'
import { wrap } from './wrap.js'

const DEGREES = 180 / Math.PI

/** Ends with a newline. @param scenarios how many were given; @param notes of files that the rig names */
export function envelopeText(
  envelope: Study,
  about: { readonly rigFile: string; readonly scenarios: number; readonly notes: readonly string[] },
  width: number,
): string {
  const { rig, named, sides, commands, assumptions, boundary, afloat, cruise } = envelope
  const apart = waterMatters(envelope)
  const lines = [
    ...wrap(`Envelope of ${rig} (${about.rigFile}): steady strokes`, width, 0, 2),
    ...about.notes.flatMap((note) => wrap(`Note: ${note}`, width, 0, 2)),
    '',
    row(['greatest command', 'surge', 'yaw rate', 'gives out first'], PLAIN),
    ...named.flatMap(({ name, ...ends }) => [
      ...commandRow(name, ends.dry, width),
      ...(differ(ends) ? commandRow('  afloat', ends.afloat!, width) : []),
    ]),
    ...wrap(waterTold(envelope), width, 2, 4),
    '',
    ...around(`All around${apart ? ', on dry land' : ''}; ${DIRECTIONS_TOLD}`, boundary, width),
    ...(apart ? ['', ...around('All around, afloat', afloat!, width)] : []),
    '',
    ...sideLines(sides, width),
    '',
    ...wrap(approachTold(envelope), width, 0, 2),
  ]
  if (commands.length > 0) {
    lines.push('', row(['farthest command', 'surge', 'yaw rate', 'of the way to the boundary'], PLAIN))
    for (const { scenario, surge, yaw, share, boundary } of farthest(commands)) {
      // What gives out on the way is said where it matters.
      const told =
        share > 1 ? `${shareTold(share)} OUTSIDE: ${limitsNamed(boundary.limits)}` : shareTold(share)
      lines.push(...hung(row([scenario, surgeTold(surge), yawTold(yaw), ''], PLAIN, false), told, width))
    }
  }
  if (cruise !== null) lines.push('', ...cruiseLines(cruise, width))
  lines.push('', ...wrap(outcomeTold(envelope, about.scenarios), width, 0), '')
  for (const text of assumptions) lines.push(...wrap(`- ${text}`, width, 0, 2))
  lines.push('', ...wrap(ENVELOPE_CAUTION, width, 0))
  return `${lines.join('\n')}\n`
}

/** What gives out first, from direction to direction. */
function around(head: string, boundary: Envelope['boundary'], width: number): string[] {
  const stretches = stretchesOf({ boundary }).flatMap(({ limit, boundary: part }) => {
    const [from, to] = [part[0]!, part.at(-1)!].map(({ direction }) => Math.round(direction * DEGREES))
    const where = from === to ? 'everywhere' : `${degrees(from!)} to ${degrees(to!)} deg`
    return wrap(`  ${where.padEnd(14)}  ${limitTold(limit)}`, width, 0, 18)
  })
  return [...wrap(head, width, 0, 2), ...stretches]
}

const PLAIN = [22, 11, 14, 0]
/** Where the last column begins. */
const LAST = 2 + 22 + 11 + 14

function row(cells: readonly string[], widths: readonly number[], trim = true): string {
  // A name that fills its column still has a blank behind it.
  const all = cells
    .map((cell, i) => (cell.length < widths[i]! ? cell.padEnd(widths[i]!) : `${cell} `))
    .join('')
  const text = `  ${all}`
  return trim ? text.trimEnd() : text.slice(0, -1)
}

function commandRow(name: string, { length, surge, yaw, limits }: Boundary, width: number): string[] {
  const cells = length === 0 ? ['none', ''] : [greatestSurge(surge), greatestYaw(yaw)]
  return hung(row([name, ...cells, ''], PLAIN, false), limitsNamed(limits), width)
}

/** A text in the last column, below itself where it is long. */
function hung(before: string, text: string, width: number): string[] {
  const [first, ...rest] = wrap(text, width - before.length, 0)
  const more = rest.length === 0 ? [] : wrap(rest.join(' '), width, LAST)
  return [`${before}${first}`.trimEnd(), ...more]
}

function degrees(value: number): string {
  return String(value).padStart(3)
}

function sideLines(sides: readonly SideLimit[], width: number): string[] {
  const widths = [11, 8, 9, 7, ...STRAINS.map(() => 9)]
  const cells = sides.map((limit) => {
    const { speed, cadence, strains } = sideRow(limit)
    const name = limit.afloat ? ['  afloat', ''] : [limit.side, limit.way]
    return [...name, speed, cadence ?? '-', ...strains.map((strain) => strain?.[0] ?? '-')]
  })
  return [
    ...wrap(
      `Each side at its own limit, and what a stroke of full length then asks of each kind of limit${startTold(sides)}`,
      width,
      0,
      2,
    ),
    row(['side', 'way', 'm/s', '1/min', ...STRAINS.map(([head]) => head)], widths),
    ...cells.map((c) => row(c, widths)),
  ]
}
