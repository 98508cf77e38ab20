/**
 * The envelope of a rig's commands: over surge and yaw rate, how far out from standstill in each direction a steady stroke is
 * borne, and what gives out first. What it is made of; driver/envelope works it out.
 *
 * Directions are those of the plane (surge, yaw rate times half the track), both in m/s: its length along an axis is the speed of the
 * sides. 0 is ahead, a quarter turn a pivot to port, half a turn astern.
 */
import type { Side } from '../files/rig.js'
import type { ShownUnit } from '../units.js'

/** What can give out. In this order they are told where several do at once. */
export const ITEMS = [
  'reach',
  'clearance',
  'bus load',
  'joint speed',
  'joint acceleration',
  'torque',
  'lasting torque',
  'following window',
  'command range',
] as const
export type Item = (typeof ITEMS)[number]

export type Way = 'ahead' | 'astern'

/** What a stroke asks of the joint that it asks most of. */
export interface Strain {
  readonly item: Item
  /** `arm.joint` */
  readonly joint: string
  readonly value: number
  readonly limit: number
  /** value / limit */
  readonly share: number
  readonly unit: ShownUnit
  /** Of the stroke; null: of all of it together */
  readonly phase: number | null
}

/** What gives out first. */
export interface Limit {
  readonly item: Item
  /** null: of both sides together, or of neither */
  readonly side: Side | null
  /** A joint, an arm, two bodies, a bus, or `surge` and `yaw rate` */
  readonly place: string
  readonly phase: number | null
  /** In a few words, with value and limit. */
  readonly says: string
}

/** How fast one side may go on its own account, one way. */
export interface SideLimit {
  readonly side: Side
  readonly way: Way
  /** 0..1, the share of the stroke's length with which it is stroked */
  readonly reach: number
  /** m/s as commanded, without sign; 0: not at all, Infinity: nothing gives out in the range of commands */
  readonly speed: number
  /** null: nothing */
  readonly limit: Limit | null
  /** 1/s, strokes at that speed; 0 where there is none */
  readonly cadence: number
  /** At that speed, the most of each kind; empty where there is none */
  readonly strains: readonly Strain[]
}

/** The end of the envelope in one direction. */
export interface Boundary {
  /** rad, 0 ahead, +pi/2 a pivot to port */
  readonly direction: number
  /** m/s, how far it is from standstill in the plane of directions */
  readonly length: number
  /** m/s and rad/s, the command there */
  readonly surge: number
  readonly yaw: number
  /** m/s, of the sides there */
  readonly port: number
  readonly starboard: number
  /** All that give out there, at least one. */
  readonly limits: readonly Limit[]
}

/** Where a command of a scenario lies. */
export interface PlacedCommand {
  readonly scenario: string
  /** s, when it is first given */
  readonly at: number
  readonly surge: number
  readonly yaw: number
  /** Its distance from standstill as a share of that of the boundary in its direction; above 1 it is outside */
  readonly share: number
  readonly boundary: Boundary
}

/** The nearest that anything comes on steady strokes. */
export interface NearestApproach {
  /** Which sides stroke. */
  readonly sides: readonly Side[]
  /** m */
  readonly distance: number
  readonly between: readonly [string, string]
}

export interface Envelope {
  readonly rig: string
  /** m */
  readonly track: number
  /** All around, ascending; the corners among them. */
  readonly boundary: readonly Boundary[]
  /** Greatest commands of everyday. */
  readonly named: readonly { readonly name: string; readonly boundary: Boundary }[]
  readonly sides: readonly SideLimit[]
  /** m; null: the rig does not say how thick its arms are */
  readonly leastDistance: number | null
  readonly approaches: readonly NearestApproach[]
  readonly commands: readonly PlacedCommand[]
  /** What the figures rest on, and what was not looked at. */
  readonly assumptions: readonly string[]
}

/** Do all of the scenarios' commands lie inside, and can the craft move at all? */
export function allInside({ commands, boundary }: Pick<Envelope, 'commands' | 'boundary'>): boolean {
  return commands.every((c) => c.share <= 1) && boundary.every((b) => b.length > 0)
}
