/** Words on a page: nothing in them becomes markup, and a number stays on one line with its unit. */
import { unitNames } from '../../units.js'
import { escaped } from '../markup.js'

const NO_BREAK = '\u00a0'

/** Of figures that no file states and no finding has: those of a cruise. */
const OF_A_CRUISE = ['W h/km', 'km']

/** The longest first: `N m` is no `N`. No unit has a character that means something in an expression. */
const UNITS = [...unitNames(), ...OF_A_CRUISE].sort((a, b) => b.length - a.length).join('|')
const MEASURED = new RegExp(`(?<![\\w.])([-+\u2212]?\\d[\\d.]*(?:e[-+]?\\d+)?) (${UNITS})(?![\\w/])`, 'g')

/** `limit 8 N m at most`, which breaks on either side of `8 N m` and not in it. */
export function phrase(text: string): string {
  return escaped(text).replace(MEASURED, (measured) => measured.replaceAll(' ', NO_BREAK))
}
