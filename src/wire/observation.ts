/**
 * What a frame says once it is decoded, in joint terms and SI units. The same decoder makes these from the frames
 * of a running bench and from a recording's, so that watches and judge see the same things in the same order.
 */
import type { Nanos } from '../clock.js'
import type { Reported } from '../files/rig.js'

/** Drive states of CiA 402 (IEC 61800-7-201). */
export type DriveState =
  | 'not ready to switch on'
  | 'switch on disabled'
  | 'ready to switch on'
  | 'switched on'
  | 'operation enabled'
  | 'quick stop active'
  | 'fault reaction active'
  | 'fault'

/** What a statusword says: a state, or a combination of bits that the standard does not define. */
export type ReportedState = DriveState | 'unknown'

/** Commands of the controlword. */
export type DriveCommand =
  | 'shutdown'
  | 'switch on'
  | 'enable operation'
  | 'disable voltage'
  | 'quick stop'
  | 'fault reset'

export type NodeState = 'boot-up' | 'stopped' | 'operational' | 'pre-operational' | 'unknown'

export type NmtCommand = 'start' | 'stop' | 'pre-operational' | 'reset node' | 'reset communication'

export type WireObservation =
  /** Every frame, before anything else that it says. `bits`: exact length on the wire with stuff bits and intermission. */
  | { kind: 'frame'; t: Nanos; bus: number; id: number; sent: boolean; bits: number }
  /** SYNC number `index` of this bus, counted from 0; without SYNC what begins a cycle there (frame-map/listener.ts). */
  | { kind: 'sync'; t: Nanos; bus: number; index: number }
  /** A setpoint (rad) for a joint; it acts at SYNC `index`, the one after the last seen. */
  | { kind: 'setpoint'; t: Nanos; joint: number; index: number; position: number }
  /** Feedback (rad, N m) sampled at SYNC `index`, the last seen; torque NaN where the drive reports none. */
  | { kind: 'feedback'; t: Nanos; joint: number; index: number; position: number; torque: number }
  /** What a drive says of itself besides its feedback: degC, V or A. */
  | { kind: 'report'; t: Nanos; joint: number; what: Reported; value: number }
  /** The statusword's state or its "drive follows" bit (12) changed. */
  | { kind: 'state'; t: Nanos; joint: number; state: ReportedState; follows: boolean; word: number }
  /** A controlword, or a frame that commands as much; joint -1 = all drives of the bus. `sent`: by the harness, else by the driver. */
  | {
      kind: 'control'
      t: Nanos
      bus: number
      joint: number
      command: DriveCommand | 'unknown'
      word: number
      sent: boolean
    }
  /** The driver asks a drive of buses that it owns to write to this object of its set-up. */
  | { kind: 'written'; t: Nanos; joint: number; index: number; sub: number }
  /** An NMT command; node 0 = all. */
  | { kind: 'nmt'; t: Nanos; bus: number; node: number; command: NmtCommand | 'unknown' }
  /** Heartbeat or boot-up message; joint -1 when the node is none of the rig's. */
  | { kind: 'heartbeat'; t: Nanos; bus: number; node: number; joint: number; state: NodeState }
  | { kind: 'emergency'; t: Nanos; bus: number; joint: number; code: number; register: number }
  /** A frame that only the harness may send, sent by somebody else: nothing of what it says is taken for our doing. */
  | { kind: 'foreign'; t: Nanos; bus: number; id: number }
  /** A frame that the rig does not explain. */
  | { kind: 'strange'; t: Nanos; bus: number; id: number }
