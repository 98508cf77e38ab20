/**
 * One process data object of a simulated drive: its communication and mapping records in the dictionary with
 * the rules of CiA 301 (7.5.2.35 to 7.5.2.38) for changing them, and the packing of its frame.
 *
 * The rules: the COB-ID of a valid PDO may only be changed by making it invalid (bit 31); number and list of
 * mapped objects may only be changed while it is invalid, the list only while the number is 0; a number is
 * accepted only when every mapped object exists, may be mapped in this direction, has that length, and all
 * fit into 8 bytes.
 *
 * Not modelled: inhibit time, event timer, transmission on change within a type 0, remote requests, mapping
 * of single bits.
 */

import {
  AT_ONCE,
  COB,
  mappingWord,
  type ObjectEntry,
  PDO_INVALID,
  pdoObjects,
} from '../wire/cia402/objects.js'
import { integer } from '../wire/cia402/process.js'
import { ABORT } from '../wire/cia402/sdo.js'
import { type Frame, frame } from '../wire/frame.js'
import { type AbortCode, current, type Entry, entry, plainObject, type WrittenBy } from './dictionary.js'

const MOST_MAPPED = 8
const EXTENDED = 0x20000000
/** Every SYNC up to every 240th. */
const MOST_SYNCS = 240

export interface PdoDefaults {
  /** With bit 31 when the PDO does not exist at power-on. */
  readonly cobId: number
  readonly mapped: readonly ObjectEntry[]
}

export class Pdo {
  /** All entries of the two records. */
  readonly entries: readonly Entry[]
  /** A frame that waits for the next SYNC, and, for a transmit PDO, how many SYNCs were counted. */
  latched: Uint8Array | null = null
  syncs = 0
  readonly #direction: 'receive' | 'transmit'
  readonly #find: (index: number, sub: number) => Entry | undefined
  readonly #cobId: Entry
  readonly #type: Entry
  readonly #count: Entry
  readonly #words: readonly Entry[]
  #mapped: readonly Entry[] = []
  #bytes = 0

  /**
   * @param n 1-based number of the PDO in its direction
   * @param find looks up an object to map
   * @param changed called when the COB-ID was written
   */
  constructor(
    direction: 'receive' | 'transmit',
    n: number,
    defaults: PdoDefaults,
    find: (index: number, sub: number) => Entry | undefined,
    changed: () => void,
  ) {
    const objects = pdoObjects(direction, n)
    this.#direction = direction
    this.#find = find
    this.#cobId = entry(objects.cobId, defaults.cobId)
    this.#type = entry(objects.type, AT_ONCE)
    this.#count = entry(objects.count, defaults.mapped.length)
    this.#words = Array.from({ length: MOST_MAPPED }, (_, i) => {
      const object = defaults.mapped[i]
      return entry(objects.map(i + 1), object === undefined ? 0 : mappingWord(object))
    })
    this.#cobId.check = (value) => this.#checkCobId(value)
    this.#cobId.written = () => {
      this.latched = null
      changed()
    }
    this.#type.check = (value) => ((value >= 1 && value <= MOST_SYNCS) || value >= 254 ? 0 : ABORT.outOfRange)
    this.#count.check = (value) => this.#checkCount(value)
    this.#count.written = () => this.compile()
    for (const word of this.#words) word.check = (value) => this.#checkWord(value)
    const highest = entry(plainObject(objects.cobId.index, 0, 1), 2, 'read')
    this.entries = [highest, this.#cobId, this.#type, this.#count, ...this.#words]
  }

  /** CAN identifier, or -1 while the PDO does not exist. */
  get id(): number {
    return this.#cobId.value >= PDO_INVALID ? -1 : this.#cobId.value & 0x7ff
  }

  /** Acts or is sent at every n-th SYNC; 0: at once, or on change. */
  get everySync(): number {
    return this.#type.value > MOST_SYNCS ? 0 : this.#type.value
  }

  /** Works the list of mapped objects out anew, after a write to the number or a reset. */
  compile(): void {
    const words = this.#words.slice(0, this.#count.value)
    this.#mapped = words.map((w) => this.#target(w.value)).filter((e) => e !== undefined)
    this.#bytes = this.#mapped.reduce((sum, e) => sum + e.object.bytes, 0)
    this.latched = null
    this.syncs = 0
  }

  /** Writes a received frame to the mapped objects. False: it is too short. */
  unpack(data: Uint8Array, by: WrittenBy): boolean {
    if (data.length < this.#bytes) return false
    let at = 0
    for (const e of this.#mapped) {
      const { bytes, signed } = e.object
      const value = integer(data, at, bytes, signed)
      at += bytes
      if (e.check !== null && e.check(value) !== 0) continue
      e.value = value
      e.written?.(value, by)
    }
    return true
  }

  /** The frame to send, with the values of now. */
  pack(): Frame {
    const data = new Uint8Array(this.#bytes)
    let at = 0
    for (const e of this.#mapped) {
      const value = current(e)
      const end = at + e.object.bytes
      for (let shift = 0; at < end; shift += 8) data[at++] = value >> shift
    }
    return frame(this.id, data)
  }

  #checkCobId(value: number): AbortCode {
    if (value & EXTENDED || value & 0x1ffff800) return ABORT.outOfRange
    const becomesValid = value < PDO_INVALID
    if (becomesValid && isRestricted(value & 0x7ff)) return ABORT.outOfRange
    if (becomesValid && this.id >= 0 && this.id !== (value & 0x7ff)) return ABORT.state
    return 0
  }

  #checkCount(value: number): AbortCode {
    if (this.id >= 0) return ABORT.state
    if (value > MOST_MAPPED) return ABORT.outOfRange
    let bytes = 0
    for (let i = 0; i < value; i++) {
      const e = this.#target(this.#words[i]!.value)
      if (e === undefined) return ABORT.notMappable
      bytes += e.object.bytes
    }
    return bytes > 8 ? ABORT.mappingTooLong : 0
  }

  #checkWord(value: number): AbortCode {
    if (this.id >= 0 || this.#count.value !== 0) return ABORT.state
    if (value === 0) return 0
    if (this.#find(value >>> 16, (value >>> 8) & 0xff) === undefined) return ABORT.noObject
    return this.#target(value) === undefined ? ABORT.notMappable : 0
  }

  #target(word: number): Entry | undefined {
    const e = this.#find(word >>> 16, (word >>> 8) & 0xff)
    return e?.mappable === this.#direction && 8 * e.object.bytes === (word & 0xff) ? e : undefined
  }
}

/** Identifiers that no PDO may have (CiA 301, 7.3.5, from memory), and SYNC's. */
function isRestricted(id: number): boolean {
  return (
    id <= COB.sync ||
    (id > 0x100 && id <= 0x180) ||
    (id > 0x580 && id < 0x600) ||
    (id > 0x600 && id < 0x680) ||
    id >= 0x6e0
  )
}
