/**
 * Statusword and controlword of CiA 402 (IEC 61800-7-201). Masks and values: check table of the project, read in
 * open CANopen stacks; the mask of "switch on" from memory.
 */
import type { DriveCommand, DriveState, ReportedState } from '../observation.js'

const STATES: readonly { state: DriveState; mask: number; value: number }[] = [
  { state: 'not ready to switch on', mask: 0x4f, value: 0x00 },
  { state: 'switch on disabled', mask: 0x4f, value: 0x40 },
  { state: 'ready to switch on', mask: 0x6f, value: 0x21 },
  { state: 'switched on', mask: 0x6f, value: 0x23 },
  { state: 'operation enabled', mask: 0x6f, value: 0x27 },
  { state: 'quick stop active', mask: 0x6f, value: 0x07 },
  { state: 'fault reaction active', mask: 0x4f, value: 0x0f },
  { state: 'fault', mask: 0x4f, value: 0x08 },
]

// All 128 combinations of the bits that matter, worked out once: decoding is one look-up.
const BY_LOW_BITS: readonly (DriveState | undefined)[] = Array.from(
  { length: 128 },
  (_, bits) => STATES.find((s) => (bits & s.mask) === s.value)?.state,
)

/** State that a statusword says; undefined for a combination that the standard does not define. */
export function driveState(statusword: number): DriveState | undefined {
  return BY_LOW_BITS[statusword & 0x7f]
}

const OFF: ReadonlySet<ReportedState> = new Set([
  'not ready to switch on',
  'switch on disabled',
  'ready to switch on',
  'switched on',
  'fault',
] as const)

/** The drive gives the motor no torque, whatever is sent to it. What a statusword does not say in the standard's words is not off. */
export const isOff = (state: ReportedState): boolean => OFF.has(state)

/** Bit 12 in cyclic synchronous position: the drive follows the setpoint. */
export const FOLLOWS_BIT = 1 << 12
/** Bit 13: following error (from memory). */
export const FOLLOWING_ERROR_BIT = 1 << 13
/** Bit 9: remote, the controlword is processed. */
export const REMOTE_BIT = 1 << 9
/** Bit 4: voltage enabled. */
export const VOLTAGE_BIT = 1 << 4

/** Lowest statusword bits of a state, for whoever plays the drive. */
export function statusBits(state: DriveState): number {
  return STATES.find((s) => s.state === state)!.value
}

/** Controlwords as sent: the bits of the command, nothing else set. */
export const CONTROLWORD = {
  'disable voltage': 0x0000,
  'quick stop': 0x0002,
  shutdown: 0x0006,
  'switch on': 0x0007,
  'enable operation': 0x000f,
  'fault reset': 0x0080,
} as const satisfies Record<DriveCommand, number>

/** Command that a controlword gives; fault reset is said for bit 7 set, its rising edge is the receiver's to see. */
export function driveCommand(controlword: number): DriveCommand | undefined {
  if (controlword & 0x80) return 'fault reset'
  if ((controlword & 0x82) === 0x00) return 'disable voltage'
  if ((controlword & 0x86) === 0x02) return 'quick stop'
  if ((controlword & 0x87) === 0x06) return 'shutdown'
  if ((controlword & 0x8f) === 0x07) return 'switch on'
  if ((controlword & 0x8f) === 0x0f) return 'enable operation'
  return undefined
}
