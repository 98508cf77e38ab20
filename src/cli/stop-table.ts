/** What each drive confirmed of a stop, as a table. */
import { wrap } from '../report/wrap.js'
import { confirmed, type Halted } from '../stop/halt.js'

/** Ends with a newline. @param hows who stopped them, a sentence without its full stop each; @param width columns */
export function driveTable(drives: readonly Halted[], hows: readonly string[], width: number): string {
  const place = Math.max(...drives.map((d) => d.place.length), 'joint'.length) + 2
  const state = Math.max(...drives.map((d) => says(d).length), 'drive says'.length) + 2
  const row = (...[a, b, c, d]: [string, string, string, string]): string =>
    `${a.padEnd(place)}${b.padEnd(state)}${c.padEnd(11)}${d}`.trimEnd()
  const count = drives.filter(confirmed).length
  const sum =
    count === drives.length
      ? `All ${count} drives confirmed: without torque, and at rest.`
      : `${count} of ${drives.length} drives confirmed. What is not confirmed may still move.`
  return [
    row('joint', 'drive says', 'torque', 'motion'),
    '-'.repeat(Math.min(width, place + state + 11 + 'not seen'.length)),
    ...drives.map((d) => row(d.place, says(d), torque(d), motion(d))),
    ...wrap(sum, width, 0),
    ...hows.flatMap((how) => wrap(`${how}.`, width, 0)),
    '',
  ].join('\n')
}

const says = ({ state }: Halted): string => (state === 'unknown' ? 'nothing' : state)

function torque({ state, off }: Halted): string {
  if (off) return 'off'
  return state === 'unknown' ? 'not known' : 'ON'
}

function motion({ since }: Halted): string {
  return since === null ? 'not seen at rest' : 'at rest'
}
