/**
 * CAN frames and an adapter's answers as text on a serial line, in the grammar of the Linux kernel's slcan driver
 * (drivers/net/can/slcan/slcan-core.c): `<type><id><dlc><data>` and a carriage return.
 *
 * Type t is a standard data frame, T an extended one, r and R are remote frames; the identifier has three or eight
 * hexadecimal digits, the data length code is one digit up to 8, a remote frame carries no data. A carriage return or
 * a bell ends a unit, whatever stands before it. Bytes: the grammar is ASCII, and nothing is decoded before it is known.
 */
import type { Frame } from './frame.js'

/** bit/s that an adapter can be told, in the order of `S0` to `S8`. */
export const SLCAN_BIT_RATES = [10e3, 20e3, 50e3, 100e3, 125e3, 250e3, 500e3, 800e3, 1e6] as const

/** The longest line that is written: an extended frame of 8 bytes, with its carriage return. */
export const SLCAN_LINE = 27

const CR = 0x0d
const BEL = 0x07
const UPPER = [...'0123456789ABCDEF'].map((c) => c.charCodeAt(0))
/** The longest unit that means anything: an extended frame of 8 bytes with a time stamp. */
const LONGEST = 30

/** Errors of an adapter's `e` line. */
const ERRORS = {
  a: 'acknowledgement',
  b: 'bit 0',
  B: 'bit 1',
  c: 'checksum',
  f: 'form',
  o: 'receive overflow',
  O: 'transmit overflow',
  s: 'stuffing',
} as const

export type SlcanError = (typeof ERRORS)[keyof typeof ERRORS]

const STATES = { a: 'active', w: 'warning', p: 'passive', b: 'bus-off' } as const

/** What stands between two ends of unit. */
export type SlcanUnit =
  /** `stamp`: ms of the adapter's own clock, which turns over at 60,000; null: none was sent. */
  | { readonly what: 'frame'; readonly frame: Frame; readonly stamp: number | null }
  /** Nothing before the end: a carriage return says done, a bell says refused. */
  | { readonly what: 'done' }
  | { readonly what: 'refused' }
  /** Any other well-formed text, such as `S8`, `O` or `V1013`, by which end is of no account. */
  | { readonly what: 'word'; readonly text: string }
  | {
      readonly what: 'state'
      readonly state: (typeof STATES)[keyof typeof STATES]
      readonly receiveErrors: number
      readonly transmitErrors: number
    }
  | { readonly what: 'errors'; readonly errors: readonly SlcanError[] }
  /** Nothing that the grammar knows; only its first bytes are given, what is not printable as a dot. */
  | { readonly what: 'garbage'; readonly text: string }

/**
 * Writes a frame's line, carriage return and all.
 * @param out has room for `SLCAN_LINE` bytes behind `at`
 * @param frame identifier in range, at most 8 bytes
 * @returns where the line ends
 */
export function writeSlcan(frame: Frame, out: Uint8Array, at = 0): number {
  const { id, extended, remote, data } = frame
  let end = at
  out[end++] = (extended ? 'T' : 't').charCodeAt(0) - (remote ? 2 : 0)
  for (let shift = extended ? 28 : 8; shift >= 0; shift -= 4) out[end++] = UPPER[(id >> shift) & 0xf]!
  out[end++] = UPPER[data.length]!
  if (!remote) {
    for (const byte of data) {
      out[end++] = UPPER[byte >> 4]!
      out[end++] = UPPER[byte & 0xf]!
    }
  }
  out[end++] = CR
  return end
}

/** How many characters that line has. */
export function slcanLength({ extended, remote, data }: Frame): number {
  return (extended ? 11 : 6) + (remote ? 0 : 2 * data.length)
}

/** A command's line as bytes. */
export function slcanCommand(text: string): Uint8Array {
  return Uint8Array.from(`${text}\r`, (c) => c.charCodeAt(0))
}

/** `S0` to `S8`; null: adapters have no word for this bit rate. */
export function bitRateWord(bitrate: number): string | null {
  const index = SLCAN_BIT_RATES.findIndex((rate) => Math.abs(rate - bitrate) < 1)
  return index < 0 ? null : `S${index}`
}

export interface SlcanReaderOptions {
  /** Frames may end in four hexadecimal digits, the adapter's time stamp. Default: that is garbage. */
  readonly stamps?: boolean
  /** The first bytes may be the rest of a line that began earlier: all before the first end of unit is passed over. */
  readonly midway?: boolean
}

/** Takes bytes as they come, in pieces of any length. */
export class SlcanReader {
  readonly #stamps: boolean
  readonly #unit = new Uint8Array(LONGEST)
  #length = 0
  #midway: boolean

  constructor(options: SlcanReaderOptions = {}) {
    this.#stamps = options.stamps ?? false
    this.#midway = options.midway ?? false
  }

  read(bytes: Uint8Array, onUnit: (unit: SlcanUnit) => void): void {
    for (const byte of bytes) {
      if (byte === CR || byte === BEL) {
        const length = this.#length
        this.#length = 0
        if (this.#midway) this.#midway = false
        else onUnit(length === 0 ? { what: byte === CR ? 'done' : 'refused' } : this.#meaning(length))
      } else {
        // Of a unit too long to mean anything the length alone goes on: the store is bounded.
        if (this.#length < LONGEST) this.#unit[this.#length] = byte
        this.#length++
      }
    }
  }

  #meaning(length: number): SlcanUnit {
    return (length <= LONGEST ? meaning(this.#unit, length, this.#stamps) : null) ?? this.#garbage(length)
  }

  #garbage(length: number): SlcanUnit {
    const shown = this.#unit.subarray(0, Math.min(length, 16))
    const text = Array.from(shown, (b) => (b >= 0x20 && b < 0x7f ? String.fromCharCode(b) : '.')).join('')
    return { what: 'garbage', text: length > 16 ? `${text}...` : text }
  }
}

function meaning(unit: Uint8Array, length: number, stamps: boolean): SlcanUnit | null {
  const first = String.fromCharCode(unit[0]!)
  if (first === 't' || first === 'T' || first === 'r' || first === 'R') {
    const extended = first < 'a'
    return frameOf(unit, length, extended, first === 'r' || first === 'R', stamps)
  }
  let text = ''
  for (let i = 0; i < length; i++) text += String.fromCharCode(unit[i]!)
  const state = /^s([awpb])(\d{3})(\d{3})$/.exec(text)
  if (state) {
    const [, letter, receive, transmit] = state
    return {
      what: 'state',
      state: STATES[letter as keyof typeof STATES],
      receiveErrors: Number(receive),
      transmitErrors: Number(transmit),
    }
  }
  const errors = /^e([1-8])([abBcfoOs]+)$/.exec(text)
  if (errors && Number(errors[1]) === errors[2]!.length) {
    return { what: 'errors', errors: Array.from(errors[2]!, (c) => ERRORS[c as keyof typeof ERRORS]) }
  }
  return /^[A-Zmsz][0-9A-Za-z]*$/.test(text) ? { what: 'word', text } : null
}

function frameOf(
  unit: Uint8Array,
  length: number,
  extended: boolean,
  remote: boolean,
  stamps: boolean,
): SlcanUnit | null {
  const digits = extended ? 8 : 3
  const id = hex(unit, 1, digits)
  const size = hex(unit, 1 + digits, 1)
  const end = 2 + digits + (remote ? 0 : 2 * size)
  if (length < 2 + digits || !(id <= (extended ? 0x1fffffff : 0x7ff)) || !(size <= 8)) return null
  if (length !== end && !(stamps && length === end + 4)) return null
  const stamp = length === end ? null : hex(unit, end, 4)
  if (Number.isNaN(stamp)) return null
  const data = new Uint8Array(size)
  if (!remote) {
    for (let i = 0; i < size; i++) {
      const byte = hex(unit, 2 + digits + 2 * i, 2)
      if (Number.isNaN(byte)) return null
      data[i] = byte
    }
  }
  return { what: 'frame', frame: { id, extended, remote, data }, stamp }
}

/** NaN when one of the digits is none. */
function hex(unit: Uint8Array, at: number, digits: number): number {
  let value = 0
  for (let i = at; i < at + digits; i++) {
    const c = unit[i]!
    const digit =
      c >= 0x30 && c <= 0x39
        ? c - 0x30
        : (c | 0x20) >= 0x61 && (c | 0x20) <= 0x66
          ? (c | 0x20) - 0x57
          : Number.NaN
    value = value * 16 + digit
  }
  return value
}
