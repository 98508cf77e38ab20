/**
 * Exact length of a classical CAN frame on the wire (ISO 11898-1): stuff bits, CRC and intermission counted.
 *
 * Stuffing covers start of frame to the end of the CRC sequence: after five equal bits one of the other level goes
 * in, and it begins the next run. Both the CRC and the stuffing are worked out a byte at a time from tables.
 *
 * All functions want a frame whose identifier and length are in range; a bus checks that before it asks.
 */
import type { Frame } from './frame.js'

/** Bits from start of frame to the CRC sequence, without data: g in the equations of worstBits. */
const STUFFED_STANDARD = 34
const STUFFED_EXTENDED = 54

/** Minimum gap after a frame in which none may start. */
export const INTERMISSION_BITS = 3

/** CRC delimiter, acknowledge slot and delimiter, end of frame, intermission: never stuffed. */
const UNSTUFFED = 1 + 1 + 1 + 7 + INTERMISSION_BITS

const POLYNOMIAL = 0x4599

/** What one byte does to the CRC register, by the register's upper eight bits XOR the byte. */
const CRC = Uint16Array.from({ length: 256 }, (_, byte) => {
  let crc = byte << 7
  for (let bit = 0; bit < 8; bit++) crc = crc & 0x4000 ? (crc << 1) ^ POLYNOMIAL : crc << 1
  return crc & 0x7fff
})

function crcOfByte(crc: number, byte: number): number {
  return ((crc << 8) ^ CRC[(crc >> 7) ^ byte]!) & 0x7fff
}

/** CRC-15/CAN of whole bytes: polynomial 4599h, start 0, neither reflected nor inverted. */
export function crc15OfBytes(bytes: Uint8Array): number {
  let crc = 0
  for (const byte of bytes) crc = crcOfByte(crc, byte)
  return crc
}

/**
 * States of the stuffing: 0 is the idle bus before the frame, 1-4 a run of that many dominant bits, 5-8 a run of
 * one to four recessive bits. A run of five is at once one of the other level: the stuff bit.
 */
const STATES = 9

/** By state and the next `bits` bits: the state after them (upper byte) and the stuff bits added (lower byte). */
function stuffTable(bits: number): Uint16Array {
  const table = new Uint16Array(STATES << bits)
  for (let state = 0; state < STATES; state++) {
    for (let chunk = 0; chunk < 1 << bits; chunk++) {
      let level = state > 4 ? 1 : 0
      let run = state > 4 ? state - 4 : state
      let stuffed = 0
      for (let i = bits - 1; i >= 0; i--) {
        const bit = (chunk >> i) & 1
        if (run === 0 && bit === 1) continue // the bus is still idle
        run = bit === level ? run + 1 : 1
        level = bit
        if (run === 5) {
          stuffed++
          level = 1 - level
          run = 1
        }
      }
      table[(state << bits) | chunk] = ((run === 0 ? 0 : 4 * level + run) << 8) | stuffed
    }
  }
  return table
}

const STUFF_8 = stuffTable(8)
const STUFF_7 = stuffTable(7)

/**
 * Everything from start of frame down to all but the last identifier bit, right-aligned: 11 bits of a standard
 * frame (SOF, ten identifier bits), 31 of an extended one (SOF, base identifier, SRR, IDE, 17 identifier bits).
 */
function head(f: Frame): number {
  return f.extended ? ((f.id >>> 18) << 19) | (3 << 17) | ((f.id & 0x3ffff) >>> 1) : f.id >>> 1
}

/** The eight bits before the data, alike in both formats: last identifier bit, RTR, two dominant bits, DLC. */
function neck(f: Frame): number {
  return ((f.id & 1) << 7) | (f.remote ? 0x40 : 0) | f.data.length
}

/** The frame's CRC sequence, 15 bits. */
export function crc15(f: Frame): number {
  const h = head(f)
  // Zeros before the start of frame leave a register of zero as it is, so both formats may begin with 32 bits.
  let crc = crcOfByte(0, h >>> 24)
  crc = crcOfByte(crc, (h >>> 16) & 0xff)
  crc = crcOfByte(crc, (h >>> 8) & 0xff)
  crc = crcOfByte(crc, h & 0xff)
  crc = crcOfByte(crc, neck(f))
  const n = f.remote ? 0 : f.data.length
  for (let i = 0; i < n; i++) crc = crcOfByte(crc, f.data[i]!)
  return crc
}

/** How many stuff bits the frame has on the wire. */
export function stuffBits(f: Frame): number {
  // Ones before the start of frame are the idle bus.
  const h = head(f) | (f.extended ? 0x80000000 : 0xfffff800)
  let step = STUFF_8[h >>> 24]!
  let stuffed = step & 0xff
  step = STUFF_8[(step & 0xff00) | ((h >>> 16) & 0xff)]!
  stuffed += step & 0xff
  step = STUFF_8[(step & 0xff00) | ((h >>> 8) & 0xff)]!
  stuffed += step & 0xff
  step = STUFF_8[(step & 0xff00) | (h & 0xff)]!
  stuffed += step & 0xff
  step = STUFF_8[(step & 0xff00) | neck(f)]!
  stuffed += step & 0xff
  const n = f.remote ? 0 : f.data.length
  for (let i = 0; i < n; i++) {
    step = STUFF_8[(step & 0xff00) | f.data[i]!]!
    stuffed += step & 0xff
  }
  const crc = crc15(f)
  step = STUFF_8[(step & 0xff00) | (crc >> 7)]!
  stuffed += step & 0xff
  step = STUFF_7[((step & 0xff00) >> 1) | (crc & 0x7f)]!
  return stuffed + (step & 0xff)
}

/** Bits that the frame takes on the wire, from start of frame to the end of the intermission. */
export function frameBits(f: Frame): number {
  const n = f.remote ? 0 : f.data.length
  return (f.extended ? STUFFED_EXTENDED : STUFFED_STANDARD) + 8 * n + UNSTUFFED + stuffBits(f)
}

/**
 * Most bits that any data frame of this length can take, intermission included.
 * Source: Davis, Burns, Bril, Lukkien, Real-Time Systems 35:239-272 (2007), eqs 1-3.
 */
export function worstBits(dataBytes: number, extended: boolean): number {
  const g = extended ? STUFFED_EXTENDED : STUFFED_STANDARD
  return g + 8 * dataBytes + UNSTUFFED + Math.floor((g + 8 * dataBytes - 1) / 4)
}

/**
 * The frame's arbitration field as a number: the lower one wins (ISO 11898-1: a dominant bit, 0, overwrites a
 * recessive one). Base identifier, RTR or SRR, IDE, then the rest of an extended identifier and its RTR. So a data
 * frame wins against a remote frame of its identifier, a standard frame against an extended one of the same base.
 */
export function arbitrationField(f: Frame): number {
  const remote = f.remote ? 1 : 0
  if (!f.extended) return ((f.id << 21) | (remote << 20)) >>> 0
  return (((f.id >>> 18) << 21) | (3 << 19) | ((f.id & 0x3ffff) << 1) | remote) >>> 0
}
