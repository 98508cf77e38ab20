/**
 * Lines of events.jsonl: what happened in a run besides the frames on the bus. With the frames they are the whole
 * truth of a run; verdict and report are worked out from them.
 */
import type { Nanos } from '../clock.js'
import type { ShownUnit } from '../units.js'

/** Stages of a run, in the order of a good one; `stopping` and `stopped` can follow any. */
export const STAGES = [
  'setup', // NMT, SDO set-up read back, heartbeats
  'seed', // SYNC runs, setpoints follow the measured positions
  'enable', // drives go to operation enabled, none moves
  'prove', // nothing moves yet: the stop goes out once and is answered, then everything starts anew
  'approach', // slow quintic from the measured pose to the park pose
  'play', // the scenario; its time zero is the start of this stage
  'park', // the scenario is over, blades go to their park pose
  'disable', // drives leave operation enabled
  'rest', // drives are off; whether the arms sag is watched
  'stopping', // the stop has been latched, joints come to rest
  'stopped', // still; sag is measured, commands are refused
] as const

export type Stage = (typeof STAGES)[number]

/** 0: disable voltage at once. 1: quick stop, then disable voltage. 2: stop and hold (operational stops only). IEC 60204-1, 9.2.2. */
export type StopCategory = 0 | 1 | 2

/** What an emergency stop may be: one that keeps the torque on is none (IEC 60204-1, 9.2.5.4.2). */
export type EmergencyCategory = Exclude<StopCategory, 2>

/** What can ask for a stop: one from outside, the scenario's operator, the last gate, a drive, the driver, the bus, or a watch by its name. */
export type StopSource = string

/** Who can ask for a stop from outside the loop. Each is an emergency source: category 1, or 0 as the rig sets. */
export const OUTSIDE_SOURCES = [
  'signal',
  'key', // of the operator, on the terminal
  'command', // from another terminal
  'terminal', // it was closed, or its line was cut
  'parent', // the process that writes the recording and talks to the terminal is gone
  'guardian', // the process that watches the loop is gone
  'stand-in', // the arms are simulated in another process, and it no longer takes orders
] as const

export type OutsideSource = (typeof OUTSIDE_SOURCES)[number]

export interface OutsideStop {
  readonly source: OutsideSource
  /** What happened, in words without a full stop. */
  readonly says: string
}

export type Severity =
  | 'warning' // worth a look; the verdict may still be pass
  | 'failure' // the verdict is fail
  | 'doubt' // the evidence does not suffice; the verdict is incomplete at best

/** What a watch saw. */
export interface Finding {
  readonly watch: string
  readonly severity: Severity
  /** Name of the joint, or of the arm or bus, or empty: the whole rig. */
  readonly place: string
  readonly t: Nanos
  /** What was measured, such as `position`, `following error`. */
  readonly quantity: string
  readonly value: number
  readonly limit: number
  readonly unit: ShownUnit
  /** One sentence: what was seen. Values and units are added by the reports. */
  readonly says: string
  /** One sentence: why it matters. */
  readonly why: string
  /** One sentence: what to look at first. */
  readonly look: string
  /** Category of the stop that it asks for, or null. */
  readonly stop: StopCategory | null
}

/** A figure that a watch ends with. */
export interface Figure {
  /** Joint, arm or bus, or empty. */
  readonly place: string
  readonly name: string
  readonly value: number
  readonly unit: ShownUnit
  /** What it is held against, if anything. */
  readonly limit: number | null
}

/** What a bus's controller says of itself (ISO 11898-1), or why there is none to say it. */
export const BUS_STATES = [
  'active', // takes part in error signalling, counters below 96
  'warning', // a counter is at 96 or above
  'passive', // a counter is at 128 or above
  'bus-off', // the transmit counter passed 255: it sends nothing until restarted
  'down', // the interface is down or the line is cut; it may come back
  'gone', // the adapter has vanished; only opening it anew can help
] as const

export type BusState = (typeof BUS_STATES)[number]

/** What an error frame or an adapter tells. */
export const BUS_TROUBLES = [
  'no acknowledgement', // nobody else is on the bus, or not at this bit rate
  'bus error', // bits, stuffing, form or checksum were wrong
  'arbitration lost',
  'transmit time-out',
  'receive overflow', // frames came in and were lost
  'transmit overflow', // frames were taken and are lost
  'transceiver',
  'restarted', // back from bus-off
  'garbled', // text of an adapter that means nothing
] as const

export type BusTrouble = (typeof BUS_TROUBLES)[number]

/** Of an emergency-stop box: anything but `closed` means stop. `lost`: it cannot be read. */
export type Contact = 'closed' | 'open' | 'lost'

/** `signal` and `operator`: something outside the scenario ended the run. */
export type EndReason = 'completed' | 'stopped' | 'signal' | 'operator'

/** Of a gate's event: in motion the same setpoint twice, which is a standstill from one period to the next. The driver gave no new one. */
export const GIVEN_TWICE = 'setpoint given twice in motion'

export type BenchEvent =
  | { kind: 'begin'; t: Nanos; rig: string; scenario: string; seed: number }
  | { kind: 'stage'; t: Nanos; stage: Stage }
  /** The command in force from now on. */
  | { kind: 'command'; t: Nanos; surge: number; yaw: number }
  /** One tick of the loop: its number (those missed are counted too), lateness (ns, since the first deadline not served), the driver's setpoints and the simulated arms' true positions (rad, joint order), or null. */
  | { kind: 'tick'; t: Nanos; k: number; late: Nanos; setpoints: number[] | null; witness: number[] | null }
  /** Simulated afloat, now and then: place (m) and heading (rad) over ground, surge, sway (m/s) and yaw rate (rad/s) through the water. */
  | {
      kind: 'craft'
      t: Nanos
      x: number
      y: number
      heading: number
      surge: number
      sway: number
      yaw: number
    }
  | { kind: 'fault'; t: Nanos; fault: string; place: string; begins: boolean }
  | { kind: 'operator'; t: Nanos; action: 'stop' | 'release' | 'reset' | 'start' }
  /** Hold-to-run in the approach: the key is held, or has been let go of. */
  | { kind: 'hold'; t: Nanos; held: boolean }
  /** A setpoint that the last gate did not let through; `quantity` may be GIVEN_TWICE. */
  | { kind: 'gate'; t: Nanos; place: string; quantity: string; value: number; limit: number; unit: ShownUnit }
  /** The driver gave up: an unreachable point, a dead process. */
  | { kind: 'driver'; t: Nanos; code: string; place: string; says: string }
  /** The driver's process did not obey a stop and was ended before the stop went out once more. */
  | { kind: 'silenced'; t: Nanos; says: string }
  /** Command number `n` (from 1) was handed to the driver under test. */
  | { kind: 'asked'; t: Nanos; n: number }
  /** It has answered command `n`; `changed`: a setpoint is another than in the answer before. */
  | { kind: 'answered'; t: Nanos; n: number; changed: boolean }
  /** A line that it wrote for people. */
  | { kind: 'said'; t: Nanos; says: string }
  /** It could not be reached for a while, and can be again. */
  | { kind: 'rejoined'; t: Nanos; says: string }
  /** From now on no command reaches the driver, or one does again. */
  | { kind: 'withheld'; t: Nanos; begins: boolean }
  /** A drive does not say what it should in set-up, seeding or enabling. */
  | { kind: 'refusal'; t: Nanos; place: string; says: string; expected: string; found: string }
  /** Something about a joint's drive that is worth a look and stopped nothing. */
  | { kind: 'notice'; t: Nanos; place: string; says: string }
  /** The emergency-stop box: its contact from now on. */
  | { kind: 'contact'; t: Nanos; place: string; contact: Contact }
  /** Set-up: who a joint's drive says that it is, see `showDrive`. */
  | { kind: 'identity'; t: Nanos; place: string; drive: string }
  /** What cannot be checked of the drives of a bus, in whole sentences. */
  | { kind: 'unchecked'; t: Nanos; place: string; says: string }
  /** The stop was latched. */
  | { kind: 'stop'; t: Nanos; source: StopSource; place: string; category: StopCategory; says: string }
  /** The stop in force became a harder one: a held stop was given up or overruled, or category 0 came upon 1. */
  | {
      kind: 'escalation'
      t: Nanos
      source: StopSource
      place: string
      category: EmergencyCategory
      says: string
    }
  /** Frames that still waited on a bus when the stop came, recorded as sent, and taken back. */
  | { kind: 'withdrawn'; t: Nanos; place: string; frames: number }
  /** What a bus's controller reported: a new state, or trouble that was seen. Error counters are null where they cannot be read. */
  | {
      kind: 'bus'
      t: Nanos
      place: string
      state: BusState
      trouble: BusTrouble | 'none'
      transmitErrors: number | null
      receiveErrors: number | null
      says: string
    }
  /** Frames of a bus that are known to have been there and are not in the log that is judged: only in a run judged by such a log. */
  | { kind: 'gap'; t: Nanos; place: string; frames: number }
  /** Real time: the scheduling that the bench process and its guardian were granted. */
  | { kind: 'process'; t: Nanos; bench: string; guardian: string; says: string }
  /** On real buses: what has answered there, when it was no real arms. Said only where it was proven. */
  | { kind: 'arms'; t: Nanos; arms: 'stand-in'; says: string }
  /** A stand-in says that its arms stood still in time, as real ones never do: so many times since it said so last, the longest in ns. */
  | { kind: 'standstill'; t: Nanos; times: number; longest: Nanos }
  /** Real time: records before this one that were dropped, because nobody wrote them down in time. */
  | { kind: 'lost'; t: Nanos; frames: number; ticks: number }
  /** Something was asked for while the stop was latched, and refused. */
  | { kind: 'refused'; t: Nanos; what: string }
  | { kind: 'release'; t: Nanos }
  | { kind: 'reset'; t: Nanos }
  /** For readers of the file; the judge works findings out anew. */
  | ({ kind: 'finding' } & Finding)
  /** Always last. A recording without it was cut short. */
  | { kind: 'end'; t: Nanos; reason: EndReason }
