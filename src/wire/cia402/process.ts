/** The three process data frames of design: setpoint, controlword, feedback. Layouts in objects.ts. */
import { type Frame, frame } from '../frame.js'

/** @param id COB-ID of the joint's RPDO1; @param counts 607Ah, signed 32 bits */
export function setpointFrame(id: number, counts: number): Frame {
  return frame(
    id,
    Uint8Array.of(counts & 0xff, (counts >> 8) & 0xff, (counts >> 16) & 0xff, (counts >> 24) & 0xff),
  )
}

export function controlwordFrame(id: number, word: number): Frame {
  return frame(id, Uint8Array.of(word & 0xff, (word >> 8) & 0xff))
}

/** @param torque 6077h, thousandths of the rated torque, signed 16 bits */
export function feedbackFrame(id: number, statusword: number, counts: number, torque: number): Frame {
  return frame(
    id,
    Uint8Array.of(
      statusword & 0xff,
      (statusword >> 8) & 0xff,
      counts & 0xff,
      (counts >> 8) & 0xff,
      (counts >> 16) & 0xff,
      (counts >> 24) & 0xff,
      torque & 0xff,
      (torque >> 8) & 0xff,
    ),
  )
}

export const FEEDBACK_BYTES = 8
export const SETPOINT_BYTES = 4

/** Signed 32-bit little-endian integer at `at`. */
export function int32(data: Uint8Array, at: number): number {
  return data[at]! | (data[at + 1]! << 8) | (data[at + 2]! << 16) | (data[at + 3]! << 24)
}

export function uint16(data: Uint8Array, at: number): number {
  return data[at]! | (data[at + 1]! << 8)
}

export function int16(data: Uint8Array, at: number): number {
  return ((data[at]! | (data[at + 1]! << 8)) << 16) >> 16
}

/** Little-endian integer of any of the lengths that an object has. */
export function integer(data: Uint8Array, at: number, bytes: 1 | 2 | 4, signed: boolean): number {
  let value = 0
  for (let i = 0; i < bytes; i++) value |= data[at + i]! << (8 * i)
  if (!signed) return value >>> 0
  const unused = 32 - 8 * bytes
  return (value << unused) >> unused
}
