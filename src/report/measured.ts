/** A number stays on one line with its unit, and a place of the stroke with its name, on pages and terminals alike. */
import { unitNames } from '../units.js'

const NO_BREAK = '\u00a0'

/** Of figures that no file states and no finding has: those of a cruise. */
const OF_A_CRUISE = ['W h/km', 'km']

/** The longest first: `N m` is no `N`. No unit has a character that means something in an expression. */
const UNITS = [...unitNames(), ...OF_A_CRUISE].sort((a, b) => b.length - a.length).join('|')
const MEASURED = new RegExp(
  `(?<![\\w.])(?:([-+\u2212]?\\d[\\d.]*(?:e[-+]?\\d+)?) (${UNITS})(?![\\w/])|phase \\d)`,
  'g',
)

/** `limit 8 N m at most`, which breaks on either side of `8 N m` and not in it: its blanks are such as do not break. */
export function kept(text: string): string {
  return text.replace(MEASURED, (measured) => measured.replaceAll(' ', NO_BREAK))
}

/** With blanks as they were. */
export function released(text: string): string {
  return text.replaceAll(NO_BREAK, ' ')
}
