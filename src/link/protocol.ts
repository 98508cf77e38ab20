/** What the joints of one bus speak: frames for what the link wants, and an ear for what comes back. */
import type { Nanos } from '../clock.js'
import type { Frame } from '../wire/frame.js'
import type { DriveCommand, NmtCommand } from '../wire/observation.js'
import type { Drive } from './drive.js'

/** The two commands of a stop. */
export type StopCommand = 'quick stop' | 'disable voltage'

/** `did not obey by <this way>, and <next>` */
export interface Insistence {
  readonly frames: readonly Frame[]
  readonly way: string
  readonly next: string
}

/** What this protocol cannot check, and the stage in which that matters. */
export interface Unchecked {
  readonly stage: 'setup' | 'enable' | 'stopping'
  /** Whole sentences for the report. */
  readonly says: string
}

/** Frames of one identifier that went out so far: the number in the last one's rolling counter, before it is cut to length. */
export type Count = readonly [identifier: number, sent: number]

/** Whither a protocol sends of itself. */
export interface Way {
  readonly send: (frame: Frame) => unknown
  /** What has time: without taking room from what has none. @returns false: not now */
  readonly sendInTurn: (frame: Frame) => boolean
}

export interface Protocol {
  /** The drives of this bus, in rig order. */
  readonly drives: readonly Drive[]
  readonly unchecked: readonly Unchecked[]
  /** A frame came in. */
  hear(f: Frame, t: Nanos): void
  /** What opens a tick: SYNC, or whatever asks for feedback. */
  opening(): readonly Frame[]
  /** Feedback has to be asked for before cycles run, too. */
  readonly asks: boolean
  /** From a finished tick only. */
  heartbeat(): Frame | null
  /** A network command to all nodes; null: there is no such thing. */
  network(command: NmtCommand): Frame | null
  /** A command to every drive of the bus. */
  control(command: DriveCommand): readonly Frame[]
  /** A stop command to one drive that did not obey, by another way if there is one. */
  insist(drive: Drive, command: StopCommand): Insistence
  /** Of the identifiers of stop frames that count: whoever goes on with the stop has to go on with these. Empty: none counts. */
  counts(): readonly Count[]
  /** @param position rad */
  setpoint(drive: Drive, position: number): Frame
}
