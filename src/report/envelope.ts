/** The envelope of commands for a terminal. */
import type { Boundary, Envelope, Item, SideLimit } from '../motion/envelope.js'
import {
  approachTold,
  cut,
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
  yawTold,
} from './envelope-words.js'
import { wrap } from './wrap.js'

const DEGREES = 180 / Math.PI

/** Heads of the columns, and the kinds below them. */
export const STRAINS: readonly (readonly [head: string, item: Item])[] = [
  ['speed', 'joint speed'],
  ['accel.', 'joint acceleration'],
  ['torque', 'torque'],
  ['lasting', 'lasting torque'],
  ['window', 'following window'],
]

/** Ends with a newline. @param scenarios how many were given; @param notes of files that the rig names */
export function envelopeText(
  envelope: Envelope,
  about: { readonly rigFile: string; readonly scenarios: number; readonly notes: readonly string[] },
  width: number,
): string {
  const { rig, named, sides, commands, assumptions } = envelope
  const lines = [
    ...wrap(`Envelope of ${rig} (${about.rigFile}): steady strokes`, width, 0, 2),
    ...about.notes.flatMap((note) => wrap(`Note: ${note}`, width, 0, 2)),
    '',
    row(['greatest command', 'surge', 'yaw rate', 'gives out first'], PLAIN),
    ...named.flatMap(({ name, boundary }) => commandRow(name, boundary, width)),
    '',
    ...wrap(`All around; ${DIRECTIONS_TOLD}`, width, 0, 2),
    ...stretchesOf(envelope).flatMap(({ limit, boundary }) => {
      const [from, to] = [boundary[0]!, boundary.at(-1)!].map(({ direction }) =>
        Math.round(direction * DEGREES),
      )
      return wrap(`  ${degrees(from!)} to ${degrees(to!)} deg  ${limitTold(limit)}`, width, 0, 18)
    }),
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
  lines.push('', ...wrap(outcomeTold(envelope, about.scenarios), width, 0), '')
  for (const text of assumptions) lines.push(...wrap(`- ${text}`, width, 0, 2))
  lines.push('', ...wrap(ENVELOPE_CAUTION, width, 0))
  return `${lines.join('\n')}\n`
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
  const cells = sides.map(({ side, way, speed, cadence, strains }) => [
    side,
    way,
    speed === Number.POSITIVE_INFINITY ? 'no limit' : cut(speed, 3),
    cadence === 0 ? '-' : (60 * cadence).toFixed(1),
    ...STRAINS.map(([, item]) => {
      const strain = strains.find((s) => s.item === item)
      return strain === undefined ? '-' : `${Math.round(100 * strain.share)} %`
    }),
  ])
  return [
    ...wrap(
      'Each side at its own limit, and what a stroke of full length then asks of each kind of limit',
      width,
      0,
      2,
    ),
    row(['side', 'way', 'm/s', '1/min', ...STRAINS.map(([head]) => head)], widths),
    ...cells.map((c) => row(c, widths)),
  ]
}
