/** What all pictures of the page share: a frame with ticks, and marks along time. */
import type { Nanos } from '../../clock.js'
import { phrase } from './phrase.js'
import type { Scale } from './scale.js'

export const WIDTH = 460
export const LEFT = 44
export const RIGHT = 10

/** Something that happened at one time and is drawn as an upright line with a word or number on top. */
export interface Mark {
  readonly t: Nanos
  /** `finding`: a failure; `notice`: a doubt or a warning. */
  readonly look: 'stop' | 'finding' | 'notice' | 'fault'
  readonly label: string
  readonly title: string
}

/** A span of time in which the scenario did not play. */
export interface Idle {
  readonly from: Nanos
  readonly to: Nanos
  readonly title: string
}

export const fixed = (value: number): string => String(Math.round(value * 10) / 10)

function upright(x: number, top: number, bottom: number, look: string, title = ''): string {
  const inner = title === '' ? '' : `<title>${phrase(title)}</title>`
  return `<line class="${look}" x1="${fixed(x)}" x2="${fixed(x)}" y1="${fixed(top)}" y2="${fixed(bottom)}">${inner}</line>`
}

export function level(y: number, look: string, title = ''): string {
  const inner = title === '' ? '' : `<title>${phrase(title)}</title>`
  return `<line class="${look}" x1="${LEFT}" x2="${WIDTH - RIGHT}" y1="${fixed(y)}" y2="${fixed(y)}">${inner}</line>`
}

/** Frame, grid and numbers of the upright axis; `top` and `bottom` are places. */
export function panel(y: Scale, top: number, bottom: number): string {
  const ticks = y.ticks.map((v) => {
    const at = y.place(v)
    const grid = level(at, v === 0 ? 'zero' : 'grid')
    return `${grid}<text x="${LEFT - 5}" y="${fixed(at + 4)}" text-anchor="end">${number(v, y.decimals)}</text>`
  })
  const across = WIDTH - LEFT - RIGHT
  return `${ticks.join('')}<rect class="frame" x="${LEFT}" y="${top}" width="${across}" height="${bottom - top}"/>`
}

/** Numbers of the time axis below `y`; the last one has the unit, s. */
export function timeAxis(x: Scale, y: number): string {
  return x.ticks
    .map((v, i) => {
      const label = number(v, x.decimals) + (i === x.ticks.length - 1 ? ' s' : '')
      const inside = x.place(v) + label.length * 3.4 <= WIDTH
      const place = inside
        ? `x="${fixed(x.place(v))}" text-anchor="middle"`
        : `x="${WIDTH}" text-anchor="end"`
      return `<text ${place} y="${y + 13}">${label}</text>`
    })
    .join('')
}

type Placed = Mark & { readonly at: number }

/** Lines of the marks, and their labels above `top`; labels that would overlap stand together, in order of time. */
export function marks(all: readonly Mark[], x: (t: Nanos) => number, top: number, bottom: number): string {
  const shown: Placed[] = all
    .map((m) => ({ ...m, at: x(m.t) }))
    .filter((m) => m.at >= LEFT - 1 && m.at <= WIDTH - RIGHT + 1)
    .sort((a, b) => a.t - b.t)
  const groups: Placed[][] = []
  for (const m of shown) {
    groups.push([m])
    while (groups.length > 1 && from(groups.at(-1)!) < to(groups.at(-2)!)) {
      const later = groups.pop()!
      groups.at(-1)!.push(...later)
    }
  }
  const lines = shown.map((m) => upright(m.at, top, bottom, m.look, m.title))
  const labels = groups.map((g) => {
    const words = kept(g).map((m) => `<tspan class="${labelLook(m.look)}">${phrase(m.label)}</tspan>`)
    return `<text x="${fixed(from(g))}" y="${top - 4}">${words.join(' ')}</text>`
  })
  return lines.join('') + labels.join('')
}

/** Of a crowd only the first ones and the stop are named; the lines are all there. */
function kept(group: readonly Placed[]): readonly Placed[] {
  return group.length <= 4
    ? group
    : [
        ...group.filter((m) => m.look !== 'stop').slice(0, 3),
        ...group.filter((m) => m.look === 'stop').slice(0, 1),
      ]
}

/** Left end of a group's label: above the middle of its lines, inside the picture. */
function from(group: readonly Placed[]): number {
  const middle = (group[0]!.at + group.at(-1)!.at) / 2
  return Math.max(LEFT, Math.min(middle - width(group) / 2, WIDTH - RIGHT - width(group)))
}

function to(group: readonly Placed[]): number {
  return from(group) + width(group) + 5
}

/** Estimated: bold letters of this size are about 7 wide. */
function width(group: readonly Placed[]): number {
  return kept(group).reduce((sum, m) => sum + m.label.length * 7 + 3, -3)
}

function labelLook(look: Mark['look']): string {
  return look === 'fault' || look === 'notice' ? 'cause' : 'mark'
}

export function idles(all: readonly Idle[], x: (t: Nanos) => number, top: number, bottom: number): string {
  return all
    .map((s) => {
      const start = Math.max(LEFT, x(s.from))
      const end = Math.min(WIDTH - RIGHT, x(s.to))
      if (!(end > start)) return ''
      const place = `x="${fixed(start)}" y="${top}" width="${fixed(end - start)}" height="${bottom - top}"`
      return `<rect class="idle" ${place}><title>${phrase(s.title)}</title></rect>${upright(end, top, bottom, 'bound')}`
    })
    .join('')
}

/** One picture with its name and description for those who do not see it. */
export function picture(id: string, height: number, title: string, describes: string, body: string): string {
  return (
    `<svg viewBox="0 0 ${WIDTH} ${height}" role="img" aria-labelledby="${id}-t ${id}-d">` +
    `<title id="${id}-t">${phrase(title)}</title><desc id="${id}-d">${phrase(describes)}</desc>${body}</svg>`
  )
}

function number(value: number, decimals: number): string {
  // A true minus sign: it is as wide as the digits. No negative zero.
  return (Math.round(value * 10 ** decimals) / 10 ** decimals + 0).toFixed(decimals).replace('-', '\u2212')
}
