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

/**
 * When the water on the blades is the worse: while the craft still lies at rest and the strokes go as commanded, or under the way that it
 * comes to.
 */
export type InWater = 'standing start' | 'under way'

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
  /** null: on dry land, or the same there as afloat */
  readonly inWater: InWater | null
  /** In a few words, with value and limit. */
  readonly says: string
}

/** How fast one side may go on its own account, one way: on dry land, or afloat from a standing start. */
export interface SideLimit {
  readonly side: Side
  readonly way: Way
  readonly afloat: boolean
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

/** Both ends of the envelope in one direction. */
export interface Ends {
  /** On dry land */
  readonly dry: Boundary
  /** null: the rig does not say what that takes */
  readonly afloat: Boundary | null
}

/** How far out a command is: its distance from standstill as a share of that of the boundary in its direction; above 1 it is outside. */
export interface Shares {
  readonly dry: number
  readonly afloat: number | null
}

/** Where a command lies. */
export interface Placed {
  readonly surge: number
  readonly yaw: number
  readonly shares: Shares
  /** The greater of them, and the boundary that it is a share of */
  readonly share: number
  readonly boundary: Boundary
}

export interface PlacedCommand extends Placed {
  readonly scenario: string
  /** s, when it is first given */
  readonly at: number
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
  /** On dry land, all around, ascending; the corners among them. */
  readonly boundary: readonly Boundary[]
  /** Afloat, in the same directions; null: the rig does not say what that takes */
  readonly afloat: readonly Boundary[] | null
  /** What the rig must still say for it; null: nothing */
  readonly lacksAfloat: string | null
  /** Greatest commands of everyday. */
  readonly named: readonly ({ readonly name: string } & Ends)[]
  readonly sides: readonly SideLimit[]
  /** m; null: the rig does not say how thick its arms are */
  readonly leastDistance: number | null
  readonly approaches: readonly NearestApproach[]
  readonly commands: readonly PlacedCommand[]
  /** What the figures rest on, and what was not looked at. */
  readonly assumptions: readonly string[]
}

/** Do all commands lie inside, and can the craft move at all? */
export function allInside({
  commands,
  boundary,
  afloat,
}: Pick<Envelope, 'commands' | 'boundary' | 'afloat'>): boolean {
  return commands.every((c) => c.share <= 1) && [...boundary, ...(afloat ?? [])].every((b) => b.length > 0)
}

/** Shares by which two lengths may differ and still be told as one. */
const ALIKE = 1e-3

/** Does the water move the boundary? */
export function differ({ dry, afloat }: Ends): boolean {
  return afloat !== null && Math.abs(afloat.length - dry.length) > ALIKE * dry.length
}
