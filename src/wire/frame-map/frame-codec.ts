/** One kind of frame of a frame map: made for a joint from numbers, and looked at with suspicion when it comes in. */
import type { MapFrame, MapSignal, SignalKind } from '../../files/rig.js'
import { type Frame, frame } from '../frame.js'
import { checksum } from './checksum.js'
import { Field } from './field.js'

interface Laid {
  readonly signal: MapSignal
  readonly field: Field
}

/** Numbers to put into a frame, by what they are. */
export type Numbers = Partial<Record<SignalKind, number>>

export class FrameCodec {
  readonly #frame: MapFrame
  readonly #all: readonly Laid[]
  readonly #byName: ReadonlyMap<string, Laid>
  readonly #constants: readonly Laid[]
  readonly #sums: readonly Laid[]

  constructor(map: MapFrame) {
    this.#frame = map
    this.#all = map.signals.map((signal) => ({ signal, field: new Field(signal) }))
    this.#byName = new Map(this.#all.map((l) => [l.signal.name, l]))
    this.#constants = this.#all.filter((l) => l.signal.is === 'constant')
    this.#sums = this.#all.filter((l) => l.signal.is === 'checksum')
  }

  get bytes(): number {
    return this.#frame.bytes
  }

  /** All joints of a bus share this frame. */
  get shared(): boolean {
    return this.#frame.step === 0
  }

  id(node: number): number {
    return this.#frame.base + this.#frame.step * node
  }

  has(name: string): boolean {
    return this.#byName.has(name)
  }

  /**
   * @param numbers of signals that are missing here are passed over; bits that no number is given for are 0
   * @param others numbers of signals of the kind `other`, by name
   */
  make(node: number, numbers: Numbers, others: Readonly<Record<string, number>> = {}): Frame {
    const data = new Uint8Array(this.#frame.bytes)
    for (const { signal, field } of this.#all) {
      if (signal.is === 'constant') field.write(data, signal.value)
      else if (signal.is === 'other') field.write(data, others[signal.name] ?? 0)
      else if (signal.is !== 'checksum') field.write(data, numbers[signal.is] ?? 0)
    }
    for (const { signal, field } of this.#sums) field.write(data, checksum(signal.sum!, data, signal.byte))
    return frame(this.id(node), data)
  }

  /** It has the length, the constants and the checksum of this frame: what else it says may be believed. */
  fits(data: Uint8Array): boolean {
    if (data.length !== this.#frame.bytes) return false
    for (const { signal, field } of this.#constants) if (field.read(data) !== signal.value) return false
    for (const { signal, field } of this.#sums) {
      if (field.read(data) !== checksum(signal.sum!, data, signal.byte)) return false
    }
    return true
  }

  /** How many numbers a signal of the frame can say; 1 when there is none of that name. */
  modulus(name: string): number {
    const field = this.#byName.get(name)?.field
    return field === undefined ? 1 : field.greatest - field.least + 1
  }

  /** The number that a signal of the frame says. */
  number(name: string, data: Uint8Array): number | undefined {
    return this.#byName.get(name)?.field.read(data)
  }

  /** The same as a quantity, SI. */
  quantity(name: string, data: Uint8Array): number | undefined {
    const laid = this.#byName.get(name)
    return laid && laid.field.read(data) * laid.signal.scale + laid.signal.offset
  }

  /** The nearest number that stands for a quantity (SI), held to what the signal can say. */
  numberOf(name: string, quantity: number): number {
    const { signal, field } = this.#byName.get(name)!
    const number = Math.round((quantity - signal.offset) / signal.scale)
    return Math.min(Math.max(number, field.least), field.greatest)
  }
}

/** Of a run of frames, those whose counter has moved on; a frame without a counter always has. */
export class Fresh {
  readonly #codec: FrameCodec
  #last: number | undefined

  constructor(codec: FrameCodec) {
    this.#codec = codec
  }

  /** False: the sender repeats itself. @param data of a frame that fits */
  see(data: Uint8Array): boolean {
    const count = this.#codec.number('counter', data)
    if (count === undefined) return true
    const fresh = count !== this.#last
    this.#last = count
    return fresh
  }
}
