/** What a craft afloat does and takes under one command that goes on: made of figures that driver/envelope/cruise.ts works out. */
import type { Side } from '../files/rig.js'
import type { Endurance } from './battery.js'
import type { Envelope, Placed, Way } from './envelope.js'

/** How one side strokes. */
export interface CruiseSide {
  readonly side: Side
  readonly way: Way
  /** 0..1, share of the stroke's length */
  readonly reach: number
  /** m/s of the blade against the craft in the middle of the drive, without sign */
  readonly speed: number
  /** 1/s, strokes */
  readonly cadence: number
}

/** W, means over whole strokes of all arms together. Joints give driving - braking = friction + slip + hull. */
export interface CruisePower {
  /** Of joints while their drives push, each for itself */
  readonly driving: number
  /** Of joints while their drives hold back, without sign */
  readonly braking: number
  /** In bearings and gears */
  readonly friction: number
  /** Left in the water at the blades */
  readonly slip: number
  /** What moves the hull against its drag */
  readonly hull: number
}

export interface Cruise {
  /** The command, and how far out it is */
  readonly placed: Placed
  /** m/s through the water, of the centre of mass along the craft's x and y; rad/s */
  readonly surge: number
  readonly sway: number
  readonly yaw: number
  /** m/s, made good through still water */
  readonly speed: number
  /** m/s, by how much surge rises and falls over a stroke at most */
  readonly wander: number
  readonly sides: readonly CruiseSide[]
  readonly power: CruisePower
  /** null: the rig states none */
  readonly battery: Endurance | null
  /** What the figures rest on; to be shown with them */
  readonly assumptions: readonly string[]
}

/** An envelope, and one command that was asked about. */
export interface Study extends Envelope {
  /** null: none */
  readonly cruise: Cruise | null
}
