/** Frames to frames.pcapng, as fast as the loop makes them. */
import type { Nanos } from '../clock.js'
import { DrystrokeError } from '../errors.js'
import type { BusSettings } from '../files/rig.js'
import type { Frame } from '../wire/frame.js'
import type { AppendBuffer } from './append-buffer.js'
import {
  BLOCK,
  CAN_HEAD,
  EXTENDED,
  INBOUND,
  LINK_CAN,
  MAGIC,
  NANOSECONDS,
  OPTION,
  OUTBOUND,
  PACKET_HEAD,
  PACKET_TAIL,
  REMOTE,
  TWO_32,
} from './pcapng.js'

export class PcapngWriter {
  readonly #file: AppendBuffer

  /** Writes the section and one interface a bus at once, so that the file is readable from its first moment on. */
  constructor(file: AppendBuffer, buses: readonly Pick<BusSettings, 'name' | 'bitrate'>[]) {
    this.#file = file
    this.#section()
    for (const bus of buses) this.#interface(bus)
    this.flush()
  }

  /** @param bus index of the bus; @param sent true: from us to the bus */
  frame(bus: number, frame: Frame, t: Nanos, sent: boolean): void {
    const { data } = frame
    const n = data.length
    if (n > 8)
      throw new DrystrokeError('defect', `A classical CAN frame has at most 8 bytes, this one has ${n}`)
    const padded = (n + 3) & ~3
    const size = PACKET_HEAD + CAN_HEAD + padded + PACKET_TAIL
    const file = this.#file
    file.room(size)
    const { view, bytes } = file
    let at = file.used
    view.setUint32(at, BLOCK.packet, true)
    view.setUint32(at + 4, size, true)
    view.setUint32(at + 8, bus, true)
    view.setUint32(at + 12, Math.floor(t / TWO_32), true)
    view.setUint32(at + 16, t >>> 0, true)
    view.setUint32(at + 20, CAN_HEAD + n, true)
    view.setUint32(at + 24, CAN_HEAD + n, true)
    at += PACKET_HEAD
    view.setInt32(at, frame.id | (frame.extended ? EXTENDED : 0) | (frame.remote ? REMOTE : 0), false)
    view.setUint32(at + 4, n, true)
    at += CAN_HEAD
    // Padding must be zero, and the buffer holds what was written a megabyte ago.
    view.setUint32(at, 0, true)
    view.setUint32(at + 4, 0, true)
    for (let i = 0; i < n; i++) bytes[at + i] = data[i]!
    at += padded
    view.setUint32(at, OPTION.flags | (4 << 16), true)
    view.setUint32(at + 4, sent ? OUTBOUND : INBOUND, true)
    view.setUint32(at + 8, OPTION.end, true)
    view.setUint32(at + 12, size, true)
    file.used = at + PACKET_TAIL
  }

  flush(): void {
    this.#file.flush()
  }

  #section(): void {
    const size = 28
    const { view } = this.#file
    view.setUint32(0, BLOCK.section, true)
    view.setUint32(4, size, true)
    view.setUint32(8, MAGIC, true)
    view.setUint16(12, 1, true) // version 1.0
    view.setUint16(14, 0, true)
    view.setBigInt64(16, -1n, true) // length of the section: not known
    view.setUint32(24, size, true)
    this.#file.used = size
  }

  #interface(bus: Pick<BusSettings, 'name' | 'bitrate'>): void {
    const name = Buffer.from(bus.name, 'utf8')
    const padded = (name.length + 3) & ~3
    const size = 16 + (4 + padded) + 12 + 8 + 4 + 4
    const file = this.#file
    file.room(size)
    const { view, bytes } = file
    let at = file.used
    view.setUint32(at, BLOCK.interface, true)
    view.setUint32(at + 4, size, true)
    view.setUint32(at + 8, LINK_CAN, true) // 16 bits, then 16 reserved
    view.setUint32(at + 12, 0, true) // no limit to a packet's length
    at += 16
    at = option(view, at, OPTION.name, name.length)
    bytes.fill(0, at, at + padded)
    name.copy(bytes, at)
    at = option(view, at + padded, OPTION.speed, 8)
    view.setBigUint64(at, BigInt(Math.round(bus.bitrate)), true)
    at = option(view, at + 8, OPTION.resolution, 1)
    view.setUint32(at, NANOSECONDS, true)
    view.setUint32(at + 4, OPTION.end, true)
    view.setUint32(at + 8, size, true)
    file.used = at + 12
  }
}

/** Code and length of an option; its value begins at the returned place. */
function option(view: DataView, at: number, code: number, length: number): number {
  view.setUint16(at, code, true)
  view.setUint16(at + 2, length, true)
  return at + 4
}
