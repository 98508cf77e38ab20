/** Expedited SDO transfers (CiA 301, 7.2.4.3): one object of up to four bytes, one request, one reply. */
import { type Frame, frame } from '../frame.js'
import { COB, type ObjectEntry } from './objects.js'

function message(id: number, command: number, index: number, sub: number, value = 0): Frame {
  const data = new Uint8Array(8)
  data[0] = command
  data[1] = index & 0xff
  data[2] = index >> 8
  data[3] = sub
  new DataView(data.buffer).setUint32(4, value >>> 0, true)
  return frame(id, data)
}

/** Command byte of an expedited transfer with its size stated. */
const sized = (base: number, bytes: number): number => base | ((4 - bytes) << 2) | 0x03

export function writeRequest(node: number, o: ObjectEntry, value: number): Frame {
  const mask = o.bytes === 4 ? 0xffffffff : (1 << (8 * o.bytes)) - 1
  return message(COB.sdoRequest + node, sized(0x20, o.bytes), o.index, o.sub, (value & mask) >>> 0)
}

export function readRequest(node: number, o: ObjectEntry): Frame {
  return message(COB.sdoRequest + node, 0x40, o.index, o.sub)
}

/**
 * What a request would have written, of whatever length: CiA 301, 7.2.4.3.3 and 7.2.4.3.9, begin of a download and of one in blocks.
 * Null: it does not begin to write.
 */
export function writtenBy(data: Uint8Array): { readonly index: number; readonly sub: number } | null {
  const command = data[0]! >> 5
  const begins = command === 1 || (command === 6 && (data[0]! & 1) === 0)
  return begins ? { index: data[1]! | (data[2]! << 8), sub: data[3]! } : null
}

/** Segment of an upload under way (7.2.4.3.6). @param toggle 0 for the first, then 1, 0, ... */
export function segmentRequest(node: number, toggle: 0 | 1): Frame {
  return message(COB.sdoRequest + node, 0x60 | (toggle << 4), 0, 0)
}

/** Beginning of an upload in segments, with the size stated. */
export function segmentedReply(node: number, index: number, sub: number, bytes: number): Frame {
  return message(COB.sdoReply + node, 0x41, index, sub, bytes)
}

/** @param data at most 7 bytes */
export function segmentReply(node: number, toggle: 0 | 1, data: Uint8Array, last: boolean): Frame {
  const all = new Uint8Array(8)
  all[0] = (toggle << 4) | ((7 - data.length) << 1) | (last ? 1 : 0)
  all.set(data, 1)
  return frame(COB.sdoReply + node, all)
}

/** Reads a segment that a server sent; undefined: it is none. */
export function readSegment(
  data: Uint8Array,
): { readonly toggle: number; readonly data: Uint8Array; readonly last: boolean } | undefined {
  const command = data[0]!
  if (data.length !== 8 || (command & 0xe0) !== 0) return undefined
  const unused = (command >> 1) & 7
  return { toggle: (command >> 4) & 1, data: data.slice(1, 8 - unused), last: (command & 1) === 1 }
}

/** Toggle bit of a request for a segment; undefined: it is none. */
export function readSegmentRequest(data: Uint8Array): 0 | 1 | undefined {
  if (data.length !== 8 || (data[0]! & 0xef) !== 0x60) return undefined
  return data[0]! & 0x10 ? 1 : 0
}

/** Is this the beginning of an upload in segments, and of which object? */
export function beginsSegments(data: Uint8Array, o: ObjectEntry): boolean {
  const own = data[1] === (o.index & 0xff) && data[2] === o.index >> 8 && data[3] === o.sub
  return data.length === 8 && own && (data[0]! & 0xe2) === 0x40
}

export function writeReply(node: number, index: number, sub: number): Frame {
  return message(COB.sdoReply + node, 0x60, index, sub)
}

export function readReply(node: number, o: ObjectEntry, value: number): Frame {
  const mask = o.bytes === 4 ? 0xffffffff : (1 << (8 * o.bytes)) - 1
  return message(COB.sdoReply + node, sized(0x40, o.bytes), o.index, o.sub, (value & mask) >>> 0)
}

export function abortReply(node: number, index: number, sub: number, code: number): Frame {
  return message(COB.sdoReply + node, 0x80, index, sub, code)
}

/** Abort codes of CiA 301, 7.2.4.3.17. */
export const ABORT = {
  toggle: 0x05030000,
  command: 0x05040001,
  readOnly: 0x06010002,
  noObject: 0x06020000,
  notMappable: 0x06040041,
  mappingTooLong: 0x06040042,
  wrongLength: 0x06070010,
  noSub: 0x06090011,
  outOfRange: 0x06090030,
  state: 0x08000022,
} as const

export type SdoMessage =
  | { what: 'write'; index: number; sub: number; bytes: number; raw: number }
  | { what: 'read'; index: number; sub: number }
  | { what: 'written'; index: number; sub: number }
  | { what: 'value'; index: number; sub: number; bytes: number; raw: number }
  | { what: 'abort'; index: number; sub: number; code: number }

/** Reads a request (client to server). Undefined: not an expedited transfer. `raw` is unsigned. */
export function readSdoRequest(data: Uint8Array): SdoMessage | undefined {
  return read(data, 'request')
}

/** Reads a reply (server to client). */
export function readSdoReply(data: Uint8Array): SdoMessage | undefined {
  return read(data, 'reply')
}

function read(data: Uint8Array, side: 'request' | 'reply'): SdoMessage | undefined {
  if (data.length !== 8) return undefined
  const command = data[0]!
  const index = data[1]! | (data[2]! << 8)
  const sub = data[3]!
  const word = new DataView(data.buffer, data.byteOffset).getUint32(4, true)
  if (command === 0x80) return { what: 'abort', index, sub, code: word }
  const kind = command & 0xe0
  if (kind === 0x40 && side === 'request') return { what: 'read', index, sub }
  if (kind === 0x60 && side === 'reply') return { what: 'written', index, sub }
  const expedited = (command & 0x02) !== 0
  if (!expedited) return undefined
  // Without a stated size (bit 0) all four bytes count.
  const bytes = command & 0x01 ? 4 - ((command >> 2) & 0x03) : 4
  const raw = bytes === 4 ? word : word & ((1 << (8 * bytes)) - 1)
  if (kind === 0x20 && side === 'request') return { what: 'write', index, sub, bytes, raw }
  if (kind === 0x40 && side === 'reply') return { what: 'value', index, sub, bytes, raw }
  return undefined
}

/** Gives an unsigned raw value the sign of its object. */
export function withSign(raw: number, o: ObjectEntry): number {
  if (!o.signed) return raw
  const shift = 32 - 8 * o.bytes
  return (raw << shift) >> shift
}
