/** A cruise for a terminal. */
import type { Cruise } from '../motion/cruise.js'
import { cruiseFacts, cruiseOutcome, cruiseTitle } from './cruise-words.js'
import { wrap } from './wrap.js'

/** Columns of the names. */
const NAMES = 21

export function cruiseLines(cruise: Cruise, width: number): string[] {
  return [
    ...wrap(`${cruiseTitle(cruise)}: what to expect of it afloat`, width, 0, 2),
    ...cruiseFacts(cruise).flatMap(([name, value]) => {
      const [first, ...rest] = wrap(value, width, 2 + NAMES)
      return [`  ${name.padEnd(NAMES)}${first!.trimStart()}`, ...rest]
    }),
    ...wrap(cruiseOutcome(cruise), width, 2, 2),
    '',
    ...cruise.assumptions.flatMap((text) => wrap(`- ${text}`, width, 2, 4)),
  ]
}
