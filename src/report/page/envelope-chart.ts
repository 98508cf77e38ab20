/**
 * The envelope as a picture: surge upwards, yaw rate to port to the left, as the craft's frame lies seen from above with the bow up.
 * Both axes have one scale in m/s of the sides, so that a pivot and a straight way compare. What gives out first is told by a number
 * and a dash pattern, a command outside by a cross: nothing by its colour alone.
 */
import type { Study } from '../../motion/cruise.js'
import type { Boundary, PlacedCommand } from '../../motion/envelope.js'
import { type Stretch, stretchesOf, waterMatters } from '../envelope-words.js'
import { fixed } from './panel.js'
import { phrase } from './phrase.js'
import { scale } from './scale.js'

const DEGREES = 180 / Math.PI
const SIZE = 620
const LEFT = 58
const RIGHT = 22
const TOP = 26
const BOTTOM = 44
/** Side of the square that the plane fills. */
const FIELD = SIZE - LEFT - RIGHT
const HEIGHT = TOP + FIELD + BOTTOM
/** Air around the farthest thing that is drawn. */
const AIR = 1.16
/** m/s: half the width of a picture in which there is nothing. */
const NOTHING = 0.1

const DASHES = ['', '10 4', '2 4', '14 4 2 4', '6 3', '1 5', '16 6', '8 3 2 3 2 3'] as const

/** A command that one or more scenarios give, and the letter that stands beside it. */
export interface Lettered {
  readonly letter: string
  readonly command: PlacedCommand
  readonly scenarios: readonly string[]
}

/** One letter for each pair of surge and yaw rate, the farthest out first. */
export function lettered(commands: readonly PlacedCommand[]): Lettered[] {
  const alike = new Map<string, PlacedCommand[]>()
  for (const c of commands) {
    const key = `${c.surge.toPrecision(9)} ${c.yaw.toPrecision(9)}`
    alike.set(key, [...(alike.get(key) ?? []), c])
  }
  return [...alike.values()]
    .sort((a, b) => b[0]!.share - a[0]!.share)
    .map((all, i) => ({
      letter: letterOf(i),
      command: all[0]!,
      scenarios: all.map(({ scenario }) => scenario),
    }))
}

/** a ... z, aa, ab ... */
function letterOf(i: number): string {
  const last = String.fromCharCode(97 + (i % 26))
  return i < 26 ? last : letterOf(Math.floor(i / 26) - 1) + last
}

/** The whole svg. */
export function envelopeChart(envelope: Study, commands: readonly Lettered[]): string {
  const { track, cruise } = envelope
  // Where water makes a difference the thick line is that afloat.
  const apart = waterMatters(envelope)
  const boundary = apart ? envelope.afloat! : envelope.boundary
  const placed = cruise === null ? [] : [cruise.placed]
  const across = (yaw: number): number => (yaw * track) / 2
  const drawn = [
    ...boundary,
    ...(apart ? envelope.boundary : []),
    ...placed,
    ...commands.map(({ command }) => command),
  ]
  const far =
    Math.max(NOTHING, ...drawn.flatMap(({ surge, yaw }) => [Math.abs(surge), Math.abs(across(yaw))])) * AIR
  const most = ((far * 2) / track) * DEGREES
  const [right, bottom] = [LEFT + FIELD, TOP + FIELD]
  const up = scale(-far, far, bottom, TOP, 5)
  // Port is to the left.
  const aside = scale(-most, most, right, LEFT, 5)
  const x = (yaw: number): number => aside.place(yaw * DEGREES)
  const at = ({ surge, yaw }: Pick<Boundary, 'surge' | 'yaw'>): string =>
    `${fixed(x(yaw))},${fixed(up.place(surge))}`
  const stretches = stretchesOf({ boundary })
  const body = [
    ...up.ticks.map((v) => line(LEFT, right, up.place(v), up.place(v), v === 0 ? 'zero' : 'grid')),
    ...aside.ticks.map((v) => line(aside.place(v), aside.place(v), TOP, bottom, v === 0 ? 'zero' : 'grid')),
    ...up.ticks.map((v) => text(LEFT - 6, up.place(v) + 4, number(v, up.decimals), 'end')),
    ...aside.ticks.map((v) => text(aside.place(v), bottom + 16, number(v, aside.decimals), 'middle')),
    `<rect class="frame" x="${LEFT}" y="${TOP}" width="${FIELD}" height="${FIELD}"/>`,
    `<polygon class="inside" points="${boundary.map(at).join(' ')}"/>`,
    ...(apart
      ? [
          `<polygon class="dry" points="${envelope.boundary.map(at).join(' ')}"><title>on dry land</title></polygon>`,
        ]
      : []),
    ...stretches.map((s, i) => edge(s, i, at)),
    text(LEFT, TOP - 9, 'surge, m/s (ahead up)', 'start'),
    text(right, bottom + 34, 'to starboard \u2192', 'end'),
    text(LEFT + FIELD / 2, bottom + 34, 'yaw rate, deg/s (to port +)', 'middle'),
    text(LEFT, bottom + 34, '\u2190 to port', 'start'),
    ...stretches.map((s, i) => badge(s, i, x, up.place)),
    ...placed.map(
      (p) =>
        `<path class="cruise-mark" d="M${fixed(x(p.yaw))} ${fixed(up.place(p.surge) - 7)}l7 7l-7 7l-7 -7z"><title>the command of the cruise</title></path>`,
    ),
    ...commandMarks(commands, x, up.place),
  ].join('')
  return (
    `<svg viewBox="0 0 ${SIZE} ${HEIGHT}" role="img" aria-labelledby="envelope-t envelope-d">` +
    '<title id="envelope-t">Envelope of commands over surge and yaw rate</title>' +
    `<desc id="envelope-d">The values are in the tables below.</desc>${body}</svg>`
  )
}

function edge({ boundary, limit }: Stretch, i: number, at: (b: Boundary) => string): string {
  const points = boundary.map(at).join(' ')
  return `<polyline class="edge" stroke-dasharray="${dashOf(i)}" points="${points}"><title>${phrase(`${i + 1}: ${limit.place}, ${limit.item}`)}</title></polyline>`
}

export function dashOf(i: number): string {
  return DASHES[i % DASHES.length]!
}

/** The stretch's number, a little outside its middle. */
function badge(
  { boundary }: Stretch,
  i: number,
  x: (yaw: number) => number,
  y: (surge: number) => number,
): string {
  const ends = [boundary[0]!, boundary.at(-1)!]
  const middle = nearestTo(boundary, ends)
  const [from, to] = [
    [x(0), y(0)],
    [x(middle.yaw), y(middle.surge)],
  ] as const
  const away = Math.hypot(to[0] - from[0], to[1] - from[1])
  const push = away === 0 ? 0 : 17 / away
  const [cx, cy] = [to[0] + push * (to[0] - from[0]), to[1] + push * (to[1] - from[1])]
  return `<circle class="badge" cx="${fixed(cx)}" cy="${fixed(cy)}" r="9.5"/><text class="numeral" x="${fixed(cx)}" y="${fixed(cy + 4)}" text-anchor="middle">${i + 1}</text>`
}

/** The place of a stretch that is nearest to the middle between its ends. */
function nearestTo(boundary: readonly Boundary[], ends: readonly Boundary[]): Boundary {
  const [surge, yaw] = [(ends[0]!.surge + ends[1]!.surge) / 2, (ends[0]!.yaw + ends[1]!.yaw) / 2]
  const off = (b: Boundary): number => Math.hypot(b.surge - surge, b.yaw - yaw)
  return boundary.reduce((a, b) => (off(b) < off(a) ? b : a))
}

/** Sides of a mark at which its letter may stand, in the order in which they are tried. */
const PLACES = [
  [9, -6],
  [9, 13],
  [-9, -6],
  [-9, 13],
  [0, -11],
  [0, 19],
  [19, 4],
  [-19, 4],
] as const

function commandMarks(
  commands: readonly Lettered[],
  x: (yaw: number) => number,
  y: (surge: number) => number,
): string[] {
  const marks = commands.map((c) => ({ ...c, x: x(c.command.yaw), y: y(c.command.surge) }))
  const taken = marks.map((m) => [m.x, m.y] as const)
  return marks.map((m) => {
    const clear = (dx: number, dy: number): boolean =>
      taken.every(
        ([a, b]) =>
          Math.abs(a - m.x - dx) > 11 || Math.abs(b - m.y - dy + 4) > 11 || (a === m.x && b === m.y),
      )
    const [dx, dy] = PLACES.find(([a, b]) => clear(a, b)) ?? PLACES[0]
    taken.push([m.x + dx, m.y + dy - 4])
    const { share, scenario } = m.command
    const title = `<title>${phrase(`${m.letter}: ${m.scenarios.length > 1 ? m.scenarios.join(', ') : scenario}`)}</title>`
    const [a, b] = [fixed(m.x), fixed(m.y)]
    const mark =
      share <= 1
        ? `<circle class="command" cx="${a}" cy="${b}" r="3.6">${title}</circle>`
        : `<path class="outside" d="M${fixed(m.x - 5)} ${fixed(m.y - 5)}l10 10m0 -10l-10 10">${title}</path>`
    const anchor = dx === 0 ? 'middle' : dx > 0 ? 'start' : 'end'
    return `${mark}<text class="letter" x="${fixed(m.x + Math.sign(dx) * (Math.abs(dx) - 3))}" y="${fixed(m.y + dy)}" text-anchor="${anchor}">${m.letter}</text>`
  })
}

function line(x1: number, x2: number, y1: number, y2: number, look: string): string {
  return `<line class="${look}" x1="${fixed(x1)}" x2="${fixed(x2)}" y1="${fixed(y1)}" y2="${fixed(y2)}"/>`
}

function text(x: number, y: number, words: string, anchor: 'start' | 'middle' | 'end'): string {
  return `<text x="${fixed(x)}" y="${fixed(y)}" text-anchor="${anchor}">${phrase(words)}</text>`
}

function number(value: number, decimals: number): string {
  return (Math.round(value * 10 ** decimals) / 10 ** decimals + 0).toFixed(decimals).replace('-', '\u2212')
}
