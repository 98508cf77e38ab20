/** What terminal and page say of an envelope in the same words. */
import {
  allInside,
  type Boundary,
  differ,
  type Envelope,
  type Limit,
  type PlacedCommand,
} from '../motion/envelope.js'
import { showQuantity } from '../units.js'

export const ENVELOPE_CAUTION =
  'These limits are worked out from the rig file, with nothing run. They are no evidence for real arms and no limits of safety.'

const DEGREES = 180 / Math.PI

/** Of the directions. */
export const DIRECTIONS_TOLD = '0 deg is ahead, 90 deg a pivot to port, 180 deg astern'

/** `port.elbow: joint acceleration, limit 1500 deg/s2, phase 0.512` */
export function limitTold(limit: Limit): string {
  const { place, phase, says } = limit
  return `${place}: ${itemTold(limit)}, ${says}${phase === null ? '' : `, phase ${phase.toFixed(3)}`}`
}

/** `torque afloat, under way` */
function itemTold({ item, inWater }: Limit): string {
  return inWater === null ? item : `${item} afloat, ${inWater}`
}

/** `joint acceleration, port.elbow and starboard.elbow`; each kind and each place once. */
export function limitsNamed(limits: readonly Limit[]): string {
  const items = [...new Set(limits.map(itemTold))]
  return items
    .map((item) => {
      const places = new Set(limits.filter((l) => itemTold(l) === item).map(({ place }) => place))
      return `${item}, ${[...places].join(' and ')}`
    })
    .join('; ')
}

/** Do dry and afloat part anywhere? Then each has to be told by itself. */
export function waterMatters({
  boundary,
  afloat,
  named,
}: Pick<Envelope, 'boundary' | 'afloat' | 'named'>): boolean {
  const around = boundary.some((dry, i) => differ({ dry, afloat: afloat?.[i] ?? null }))
  return around || named.some(differ)
}

/** One sentence on what water does to the envelope. */
export function waterTold(envelope: Envelope): string {
  const { lacksAfloat, boundary, afloat } = envelope
  if (afloat === null) return `Torque afloat was not looked at: the rig lacks ${lacksAfloat}.`
  if (!waterMatters(envelope))
    return 'Afloat it is the same in every direction: torque in the water is not what gives out first.'
  const less = afloat.filter(
    ({ length }, i) => length < boundary[i]!.length && differ({ dry: boundary[i]!, afloat: afloat[i]! }),
  )
  if (less.length === 0) return 'Afloat it reaches farther in some directions, nowhere less far.'
  const most = Math.max(
    ...less.map(
      ({ direction, length }) => 1 - length / boundary.find((b) => b.direction === direction)!.length,
    ),
  )
  const where = less.length === boundary.length ? 'in every direction' : 'in some directions'
  return `Afloat it ends nearer ${where}, by ${Math.round(100 * most)} % at most: torque in the water gives out first.`
}

/** Neighbouring directions in which the same gives out first. */
export interface Stretch {
  readonly limit: Limit
  /** In order; the next stretch begins where this one ends. */
  readonly boundary: readonly Boundary[]
}

/** All around, from the first change after straight ahead on. At a corner, where two give out, one stretch ends and the next begins. */
export function stretchesOf({ boundary }: Pick<Envelope, 'boundary'>): Stretch[] {
  const n = boundary.length
  const own = (i: number): Limit => {
    const { limits } = boundary[i % n]!
    // What goes on from the place before has the say.
    const before = boundary[(i + n - 1) % n]!.limits
    return limits.find((l) => before.some((b) => same(l, b))) ?? limits[0]!
  }
  const changes = boundary.flatMap((_, i) => (same(own(i), own(i + n - 1)) ? [] : [i]))
  if (changes.length === 0) return [{ limit: own(0), boundary: [...boundary, boundary[0]!] }]
  return changes.map((from, k) => {
    const to = changes[(k + 1) % changes.length]!
    const size = to > from ? to - from : to - from + n
    // A corner belongs to both of its sides.
    const begin = boundary[(from + n - 1) % n]!.limits.some((l) => same(l, own(from))) ? from + n - 1 : from
    const length = size + (begin === from ? 0 : 1)
    return { limit: own(from), boundary: Array.from({ length }, (_, i) => boundary[(begin + i) % n]!) }
  })
}

function same(a: Limit, b: Limit): boolean {
  return a.item === b.item && a.side === b.side && a.place === b.place && a.inWater === b.inWater
}

/** Of the scenario, the command that goes farthest out. */
export function farthest(commands: readonly PlacedCommand[]): PlacedCommand[] {
  const most = new Map<string, PlacedCommand>()
  for (const c of commands) if ((most.get(c.scenario)?.share ?? -1) < c.share) most.set(c.scenario, c)
  return [...most.values()]
}

/** `32 %`; at least one per cent outside what is outside, so that it never reads as 100 %. */
export function shareTold(share: number): string {
  if (!Number.isFinite(share)) return 'no way'
  if (share > 1) return `${Math.max(101, Math.round(100 * share))} %`
  return `${Math.floor(100 * share)} %`
}

export function outcomeTold(envelope: Envelope, scenarios: number): string {
  const outside = envelope.commands.filter(({ share }) => share > 1)
  if (envelope.boundary.every(({ length }) => length === 0)) return 'No command is borne: see what gives out.'
  if (outside.length > 0) {
    const names = new Set(outside.map(({ scenario }) => scenario))
    return `Outside: ${outside.length} of ${envelope.commands.length} commands, in ${[...names].join(', ')}.`
  }
  if (!allInside(envelope)) return 'In some directions no command is borne at all: see what gives out.'
  if (envelope.commands.length === 0)
    return scenarios === 0 ? 'No scenario was given.' : 'No scenario moves the craft.'
  const most = envelope.commands.reduce((a, b) => (b.share > a.share ? b : a))
  return `All ${envelope.commands.length} commands are inside; the farthest out, of ${most.scenario}, is at ${shareTold(most.share)} of the way to the boundary.`
}

export function approachTold({ approaches, leastDistance }: Envelope): string {
  if (leastDistance === null)
    return 'The rig does not say how thick its arms are: distances were not looked at.'
  if (approaches.length === 0) return 'Nothing was there to come near to, or no stroke was reached.'
  const near = approaches.reduce((a, b) => (b.distance < a.distance ? b : a))
  return `Least distance on steady strokes ${showQuantity(near.distance, 'm')}, ${near.between.join(' and ')}; at least ${showQuantity(leastDistance, 'm')} is asked.`
}

/** The greatest surge, to 1 mm/s and never more than it is. */
export function greatestSurge(surge: number): string {
  return `${cut(surge, 3)} m/s`
}

/** The greatest yaw rate, to a hundredth of a degree a second and never more than it is. */
export function greatestYaw(yaw: number): string {
  return `${cut(yaw * DEGREES, 2)} deg/s`
}

/** Towards zero; what is a whole number but for rounding stays one, and there is no negative zero. */
export function cut(value: number, decimals: number): string {
  const whole = Math.trunc(value * 10 ** decimals + Math.sign(value) * 1e-6)
  return ((whole + 0) / 10 ** decimals).toFixed(decimals)
}

/** `2.5 deg/s` with a sign, no negative zero. */
export function yawTold(yaw: number): string {
  return showQuantity(Math.abs(yaw) < 1e-9 ? 0 : yaw, 'rad/s')
}

export function surgeTold(surge: number): string {
  return showQuantity(Math.abs(surge) < 1e-9 ? 0 : surge, 'm/s')
}
