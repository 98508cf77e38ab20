/**
 * Frames out of frames.pcapng, one after the other. A file that ends in the middle of a block, as after a kill, gives
 * its whole blocks and `cut`; a block that says what cannot be is an error with its place.
 */
import type { Nanos } from '../clock.js'
import type { Frame } from '../wire/frame.js'
import { ChunkedFile, damaged } from './chunked-file.js'
import {
  BLOCK,
  CAN_HEAD,
  EXTENDED,
  ID_MASK,
  LINK_CAN,
  MAGIC,
  NANOSECONDS,
  OPTION,
  OUTBOUND,
  PACKET_HEAD,
  REMOTE,
  TWO_32,
} from './pcapng.js'

const NO_FRAME: Frame = { id: 0, extended: false, remote: false, data: new Uint8Array(0) }

export class PcapngReader {
  /** Name of each interface seen so far, which is the bus with that index. */
  readonly names: string[] = []
  /** The frame that the last `next()` found; a new object each time, so it may be kept. */
  frame: Frame = NO_FRAME
  bus = 0
  t: Nanos = 0
  sent = false
  /** The file ended in the middle of a block. Meaningful once `next()` has returned false. */
  cut = false
  readonly #file: ChunkedFile
  #little = true
  #started = false

  /** @throws DrystrokeError `recording-invalid` when there is no such file */
  constructor(path: string) {
    this.#file = new ChunkedFile(path)
  }

  /** Goes to the next frame; false at the end. @throws DrystrokeError `recording-invalid` on damage */
  next(): boolean {
    const file = this.#file
    for (;;) {
      if (!file.need(8)) return this.#over(file.end > file.at || !this.#started)
      const type = file.view.getUint32(file.at, this.#little)
      if (type === BLOCK.section && !this.#section()) return this.#over(true)
      if (!this.#started) throw this.#bad(`0x${type.toString(16)}`, 'a section header block (0xa0d0d0a)')
      const size = file.view.getUint32(file.at + 4, this.#little)
      // A power failure can leave zeros where data was still to be written.
      if (type === 0 && size === 0) return this.#over(true)
      if (size < 12 || size % 4 !== 0)
        throw this.#bad(`a block of ${size} bytes`, 'a multiple of 4, at least 12')
      if (!file.need(size)) return this.#over(true)
      const again = file.view.getUint32(file.at + size - 4, this.#little)
      if (again !== size)
        throw this.#bad(`a block that ends with the length ${again}`, `${size}, as at its start`)
      if (type === BLOCK.packet) this.#packet(size)
      else if (type === BLOCK.interface) this.#interface(size)
      file.at += size
      if (type === BLOCK.packet) return true
    }
  }

  close(): void {
    this.#file.close()
  }

  #over(cut: boolean): false {
    this.cut = cut
    return false
  }

  /** Takes the byte order from the section header; false: cut before it. */
  #section(): boolean {
    const file = this.#file
    if (!file.need(12)) return false
    this.#little = file.view.getUint32(file.at + 8, true) === MAGIC
    if (!this.#little && file.view.getUint32(file.at + 8, false) !== MAGIC) {
      throw this.#bad('an unknown byte-order magic', `0x${MAGIC.toString(16)}`)
    }
    this.#started = true
    this.names.length = 0
    return true
  }

  #interface(size: number): void {
    const { view, bytes, at } = this.#file
    if (size < 20) throw this.#bad(`an interface block of ${size} bytes`, 'at least 20')
    const link = view.getUint16(at + 8, this.#little)
    if (link !== LINK_CAN) throw this.#bad(`an interface of link type ${link}`, `${LINK_CAN} (CAN)`)
    let name = `bus-${this.names.length}`
    let resolution = 6 // microseconds, where the option is missing
    this.#options(at + 16, at + size - 4, (code, from, length) => {
      if (code === OPTION.name) name = bytes.toString('utf8', from, from + length)
      if (code === OPTION.resolution && length > 0) resolution = bytes[from]!
    })
    if (resolution !== NANOSECONDS) throw this.#bad(`a time resolution of ${resolution}`, '9 (nanoseconds)')
    this.names.push(name)
  }

  #packet(size: number): void {
    const { view, bytes, at } = this.#file
    const little = this.#little
    const captured = size < PACKET_HEAD + CAN_HEAD + 4 ? 0 : view.getUint32(at + 20, little)
    const options = at + PACKET_HEAD + ((captured + 3) & ~3)
    const from = at + PACKET_HEAD + CAN_HEAD
    const length = captured < CAN_HEAD ? 9 : bytes[from - 4]!
    if (length > 8 || CAN_HEAD + length > captured || options > at + size - 4) {
      throw this.#bad('a packet too short for what it says', 'a CAN frame of at most 8 bytes')
    }
    const bus = view.getUint32(at + 8, little)
    if (bus >= this.names.length) throw this.#bad(`interface ${bus}`, `less than ${this.names.length}`)
    const word = view.getUint32(from - CAN_HEAD, false)
    const data = new Uint8Array(length)
    for (let i = 0; i < length; i++) data[i] = bytes[from + i]!
    this.frame = {
      id: word & ID_MASK,
      extended: (word & EXTENDED) !== 0,
      remote: (word & REMOTE) !== 0,
      data,
    }
    this.bus = bus
    this.t = view.getUint32(at + 12, little) * TWO_32 + view.getUint32(at + 16, little)
    this.sent = false
    // Our own packets have the flags first; the loop is for files that went through another program.
    if (view.getUint32(options, little) === (OPTION.flags | (4 << 16)) && options + 8 <= at + size - 4) {
      this.sent = (view.getUint32(options + 4, little) & 3) === OUTBOUND
      return
    }
    this.#options(options, at + size - 4, (code, place, length) => {
      if (code === OPTION.flags && length === 4) this.sent = (view.getUint32(place, little) & 3) === OUTBOUND
    })
  }

  #options(from: number, to: number, see: (code: number, from: number, length: number) => void): void {
    const { view } = this.#file
    for (let at = from; at + 4 <= to; ) {
      const code = view.getUint16(at, this.#little)
      const length = view.getUint16(at + 2, this.#little)
      if (code === OPTION.end) return
      if (at + 4 + length > to)
        throw this.#bad(`an option of ${length} bytes`, 'one that ends inside its block')
      see(code, at + 4, length)
      at += 4 + ((length + 3) & ~3)
    }
  }

  #bad(found: string, expected: string): Error {
    return damaged(this.#file.path, `byte ${this.#file.offset}`, found, expected)
  }
}
