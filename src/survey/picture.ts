/** What a survey of a rig's buses comes to. Times in s, angles in rad, rates in 1/s. */
import type { BusCapacity } from '../bus/capacity.js'
import type { SendResult } from '../bus/contract.js'
import type { BusState, BusTrouble } from '../files/event.js'
import type { NodeState, ReportedState } from '../wire/observation.js'

export interface Picture {
  /** s, how long was listened */
  readonly length: number
  readonly buses: readonly BusPicture[]
  /** In rig order. */
  readonly joints: readonly JointPicture[]
}

export interface BusPicture {
  readonly name: string
  readonly frames: number
  /** 0..1 of the bit rate, from exact frame lengths */
  readonly load: number
  readonly state: BusState
  readonly transmitErrors: number | null
  readonly receiveErrors: number | null
  readonly troubles: readonly {
    readonly trouble: BusTrouble
    readonly count: number
    readonly says: string
  }[]
  /** Identifiers that the rig does not explain. */
  readonly unknown: readonly Traffic[]
  /** Identifiers that only a harness sends, sent by somebody else. */
  readonly masters: readonly Traffic[]
  /** Nodes with a heartbeat or boot-up message that are no joint of the rig. */
  readonly strangers: readonly { readonly node: number; readonly state: NodeState }[]
  /** s between batches, where frames come in batches instead of one by one; else null */
  readonly batches: number | null
  /** What the rig asks of the bus and of the line before it. */
  readonly capacity: BusCapacity
  /** Frames of the survey's own that the bus did not take. */
  readonly refusals: readonly { readonly why: Refusal; readonly count: number }[]
  /** ms after which a controller that is bus-off comes back, 0: never; null: no such setting, or not known */
  readonly restart: number | null
}

/** Why a bus took no frame. */
export type Refusal = Exclude<SendResult, 'sent'>

export interface Traffic {
  readonly id: number
  readonly extended: boolean
  readonly rate: number
}

export interface JointPicture {
  readonly name: string
  readonly bus: number
  readonly feedback: {
    readonly count: number
    readonly rate: number
    readonly p50: number
    readonly p99: number
  }
  readonly state: ReportedState | null
  /** rad, last reported */
  readonly position: number | null
  /** Within the position limits; null: not known. */
  readonly inside: boolean | null
  readonly heartbeat: { readonly count: number; readonly rate: number; readonly state: NodeState | null }
  /** Code of the last emergency message, or null. */
  readonly emergency: number | null
  /** It sent a boot-up message: it was powered on, or reset, just now. */
  readonly booted: boolean
  /** What it answered when asked; null: it was not asked. */
  readonly answer: Answer | null
}

/** What a drive gives by SDO. */
export type Answer =
  | {
      readonly answered: true
      readonly deviceType: number
      /** Object 1018h: vendor, product, revision, serial number. */
      readonly identity: readonly number[]
      readonly state: ReportedState
      /** rad */
      readonly position: number
    }
  | { readonly answered: false; readonly says: string; readonly found: string }

/** Was this joint seen or did it answer? */
export function isThere(j: JointPicture): boolean {
  return j.feedback.count > 0 || j.heartbeat.count > 0 || j.booted || j.answer?.answered === true
}
