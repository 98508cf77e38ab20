/** A survey on one screen: a block a bus, a line a joint, what is missing, and what to look at first. */
import { showBusAddress } from '../files/bus-address.js'
import type { Rig } from '../files/rig.js'
import { wrap } from '../report/wrap.js'
import { showQuantity } from '../units.js'
import type { Hint } from './hints.js'
import { type BusPicture, isThere, type JointPicture, type Picture } from './picture.js'

export interface SurveyScreen {
  readonly width: number
  readonly colour: boolean
}

/** Joint, state, position, feedback rate, the longest gap between two of it but for one in a hundred, heartbeats. */
const WIDTHS = [22, 22, 12, 7, 9, 6] as const
const TITLES = ['joint', 'state', 'position', 'rate', '99 % gap', 'beat'] as const

/** @param how what was done: listened, or asked as well. Ends with a newline. */
export function surveyText(
  picture: Picture,
  hints: readonly Hint[],
  rig: Rig,
  how: string,
  { width, colour }: SurveyScreen,
): string {
  const paint = (code: number, text: string): string => (colour ? `\x1b[${code}m${text}\x1b[0m` : text)
  const lines = wrap(`Survey of ${rig.name}, ${showQuantity(picture.length, 's')}: ${how}`, width, 0)
  picture.buses.forEach((bus, b) => {
    lines.push(
      '',
      paint(1, `${bus.name}  ${showBusAddress(rig.buses[b]!.address)}`),
      ...wrap(busLine(bus, picture), width, 2, 4),
      ...wrap(capacityLine(bus), width, 2, 4),
    )
    lines.push(`  ${row(TITLES)}`)
    for (const joint of picture.joints) {
      if (joint.bus !== b) continue
      const text = `  ${row(cells(joint))}`
      lines.push(isThere(joint) && joint.inside !== false ? text : paint(31, text))
    }
    for (const { id, rate } of bus.unknown.slice(0, MOST_UNKNOWN))
      lines.push(`  unknown identifier ${hex(id)}, ${rate.toFixed(1)}/s`)
    const more = bus.unknown.length - MOST_UNKNOWN
    if (more > 0) lines.push(`  and ${more} more unknown identifiers`)
  })
  if (hints.length > 0) lines.push('', paint(1, 'Look first'))
  for (const { place, seen, look } of hints.slice(0, MOST_HINTS))
    lines.push(...wrap(`${place}: ${seen}`, width, 2, 4), ...wrap(look, width, 4))
  if (hints.length > MOST_HINTS) lines.push(`  and ${hints.length - MOST_HINTS} more: --json lists all`)
  const gone = picture.joints.filter((j) => !isThere(j)).map((j) => j.name)
  const there = picture.joints.length - gone.length
  const sum = `${there} of ${picture.joints.length} joints are there${gone.length > 0 ? `; missing: ${gone.join(', ')}` : ''}`
  lines.push('', ...wrap(sum, width, 0, 2).map((l) => paint(gone.length > 0 ? 31 : 32, l)))
  return `${lines.join('\n')}\n`
}

const MOST_UNKNOWN = 6
const MOST_HINTS = 8

function busLine(bus: BusPicture, { length }: Picture): string {
  const counter = (n: number | null): string => (n === null ? 'not known' : String(n))
  const { transmitErrors: sent, receiveErrors: received } = bus
  const errors =
    sent === null && received === null
      ? 'error counters not known'
      : `errors sent ${counter(sent)}, received ${counter(received)}`
  return `${bus.state}, load ${showQuantity(bus.load, 'share')}, ${(bus.frames / length).toFixed(0)} frames/s, ${errors}`
}

/** What the rig needs, beside what the bus, and a serial port before it, can carry. */
function capacityLine({ capacity: { toArms, fromArms, needed, available, line } }: BusPicture): string {
  const kbit = (rate: number): string => (rate / 1e3).toFixed(0)
  const bus = `a run needs ${toArms.toFixed(0)} frames/s to the arms and ${fromArms.toFixed(0)} from them, at most ${kbit(needed)} of the bus's ${kbit(available)} kbit/s`
  if (line === null) return bus
  const spare = `${kbit(line.toArms.wanted)} and ${kbit(line.fromArms.wanted)}`
  return `${bus}; of the port's ${kbit(line.toArms.available)} kbit/s each way ${spare}, half as much again to spare included`
}

function cells(j: JointPicture): string[] {
  const { feedback, heartbeat } = j
  const seen = feedback.count > 0
  return [
    j.name,
    stateOf(j),
    j.position === null ? '' : showQuantity(j.position, 'rad'),
    seen ? `${feedback.rate.toFixed(0)}/s` : '',
    seen ? showQuantity(feedback.p99, 's') : '',
    heartbeat.count > 0 ? `${heartbeat.rate.toFixed(0)}/s` : '',
  ]
}

function stateOf(j: JointPicture): string {
  if (!isThere(j)) return j.answer === null ? 'NOT SEEN' : 'NO ANSWER'
  return j.state ?? (j.heartbeat.state === null ? 'seen' : `node ${j.heartbeat.state}`)
}

/** Texts to the left, figures to the right. */
function row(texts: readonly string[]): string {
  return WIDTHS.map((w, i) => {
    const text = (texts[i] ?? '').slice(0, w - 1)
    return i < 2 ? text.padEnd(w) : text.padStart(w)
  })
    .join('')
    .trimEnd()
}

function hex(id: number): string {
  return `${id.toString(16).toUpperCase()}h`
}
