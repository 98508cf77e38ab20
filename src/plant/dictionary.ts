/**
 * Object dictionary of a simulated drive, and the answers of its SDO server (expedited transfers, CiA 301,
 * 7.2.4).
 *
 * Not modelled: segmented downloads, block transfers, complete access, saving (1010h), the error history (1003h),
 * and every object that the set-up has no use for.
 */

import type { ObjectEntry } from '../wire/cia402/objects.js'
import { ABORT, readSdoRequest, type SdoMessage, withSign } from '../wire/cia402/sdo.js'

/** How a value came in: by SDO, by a PDO that acts at once, or by one that acted at SYNC. */
export type WrittenBy = 'sdo' | 'at once' | 'at sync'

/** Answer to a write: 0 = done, else an abort code. */
export type AbortCode = number

export interface Entry {
  readonly object: ObjectEntry
  readonly access: 'read' | 'write'
  /** Kind of PDO that may carry it. */
  readonly mappable: 'receive' | 'transmit' | 'none'
  readonly initial: number
  value: number
  /** May this value be written now? */
  check: ((value: number) => AbortCode) | null
  written: ((value: number, by: WrittenBy) => void) | null
  /** Where the value comes from when it is not a stored one. */
  live: (() => number) | null
}

export function entry(
  object: ObjectEntry,
  initial: number,
  access: Entry['access'] = 'write',
  mappable: Entry['mappable'] = 'none',
): Entry {
  return { object, access, mappable, initial, value: initial, check: null, written: null, live: null }
}

/** A plain object entry that the set-up's own table (objects.ts) does not list. */
export function plainObject(index: number, sub: number, bytes: 1 | 2 | 4): ObjectEntry {
  return { index, sub, bytes, signed: false }
}

/** Check for a value within whole-number bounds. */
export const within =
  (least: number, most: number) =>
  (value: number): AbortCode =>
    value >= least && value <= most ? 0 : ABORT.outOfRange

export class Dictionary {
  readonly #entries = new Map<number, Entry>()
  readonly #indices = new Set<number>()

  add(added: readonly Entry[]): void {
    for (const e of added) {
      this.#entries.set(key(e.object.index, e.object.sub), e)
      this.#indices.add(e.object.index)
    }
  }

  find(index: number, sub: number): Entry | undefined {
    return this.#entries.get(key(index, sub))
  }

  /** The entry of an object that is known to be there. */
  of(object: ObjectEntry): Entry {
    return this.find(object.index, object.sub)!
  }

  /** Back to the values of power-on, from `first` to `last`; nobody is told. */
  restore(first: number, last: number): void {
    for (const e of this.#entries.values()) {
      if (e.object.index >= first && e.object.index <= last) e.value = e.initial
    }
  }

  /** Carries a request out. The answer has the object's entry, or the abort code. */
  serve(data: Uint8Array): SdoAnswer | undefined {
    const request = readSdoRequest(data)
    if (request === undefined) {
      return { what: 'abort', index: data[1]! | (data[2]! << 8), sub: data[3]!, code: ABORT.command }
    }
    if (request.what === 'read') return this.#read(request.index, request.sub)
    return request.what === 'write' ? this.#write(request) : undefined
  }

  /** Objects that hold text. */
  readonly texts = new Map<number, string>()

  #read(index: number, sub: number): SdoAnswer {
    const e = this.find(index, sub)
    const text = this.texts.get(key(index, sub))
    if (text !== undefined) return { what: 'text', index, sub, text }
    if (e === undefined) return { what: 'abort', index, sub, code: this.#missing(index) }
    return { what: 'value', object: e.object, value: current(e) }
  }

  #write({ index, sub, bytes, raw }: SdoMessage & { what: 'write' }): SdoAnswer {
    const e = this.find(index, sub)
    const code = e === undefined ? this.#missing(index) : put(e, bytes, raw)
    return code === 0 ? { what: 'written', index, sub } : { what: 'abort', index, sub, code }
  }

  #missing(index: number): AbortCode {
    return this.#indices.has(index) ? ABORT.noSub : ABORT.noObject
  }
}

export type SdoAnswer =
  | { what: 'value'; object: ObjectEntry; value: number }
  | { what: 'text'; index: number; sub: number; text: string }
  | { what: 'written'; index: number; sub: number }
  | { what: 'abort'; index: number; sub: number; code: AbortCode }

/** The value of an entry now, signed if its object is. */
export function current(e: Entry): number {
  return e.live === null ? e.value : e.live()
}

function put(e: Entry, bytes: number, raw: number): AbortCode {
  if (e.access === 'read') return ABORT.readOnly
  if (bytes !== e.object.bytes) return ABORT.wrongLength
  const value = withSign(raw, e.object)
  const refused = e.check === null ? 0 : e.check(value)
  if (refused !== 0) return refused
  e.value = value
  e.written?.(value, 'sdo')
  return 0
}

const key = (index: number, sub: number): number => index * 256 + sub
