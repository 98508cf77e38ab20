/** Frames that a node has waiting, in a ring of fixed size: nothing is allocated once it is made. */
import { arbitrationField } from '../wire/bits.js'
import type { Frame } from '../wire/frame.js'

/** How a node offers its waiting frames to the bus: first in, first out; or the one that wins arbitration first. */
export type QueueOrder = 'handed over' | 'by identifier'

export class TransmitQueue {
  readonly #depth: number
  #room: number
  readonly #order: QueueOrder
  readonly #frames: (Frame | undefined)[]
  readonly #fields: Uint32Array
  #first = 0
  #length = 0

  constructor(depth: number, order: QueueOrder) {
    this.#depth = depth
    this.#room = depth
    this.#order = order
    // One more than may wait: for a frame that comes back from the wire when others have filled the queue meanwhile.
    this.#frames = new Array(depth + 1).fill(undefined)
    this.#fields = new Uint32Array(depth + 1)
  }

  get length(): number {
    return this.#length
  }

  /** Arbitration field of the frame that is offered, Infinity when there is none. */
  get field(): number {
    return this.#length === 0 ? Infinity : this.#fields[this.#first]!
  }

  /** From now on no more than so many may wait; null: as many as at first. Those that wait already stay. */
  limit(frames: number | null): void {
    this.#room = Math.min(frames ?? this.#depth, this.#depth)
  }

  /** False: the queue is full, the frame was not taken. Equal identifiers keep their order. */
  put(frame: Frame): boolean {
    if (this.#length >= this.#room) return false
    const field = arbitrationField(frame)
    let place = this.#length
    if (this.#order === 'by identifier') {
      while (place > 0 && this.#fields[this.#slot(place - 1)]! > field) {
        const from = this.#slot(place - 1)
        const to = this.#slot(place)
        this.#frames[to] = this.#frames[from]
        this.#fields[to] = this.#fields[from]!
        place--
      }
    }
    const slot = this.#slot(place)
    this.#frames[slot] = frame
    this.#fields[slot] = field
    this.#length++
    return true
  }

  /** A frame that `take` gave was not sent: it is offered again, before its equals, and when it is full too. */
  putBack(frame: Frame): void {
    const field = arbitrationField(frame)
    this.#first = this.#first === 0 ? this.#depth : this.#first - 1
    this.#length++
    let place = 0
    if (this.#order === 'by identifier') {
      while (place + 1 < this.#length && this.#fields[this.#slot(place + 1)]! < field) {
        const from = this.#slot(place + 1)
        const to = this.#slot(place)
        this.#frames[to] = this.#frames[from]
        this.#fields[to] = this.#fields[from]!
        place++
      }
    }
    const slot = this.#slot(place)
    this.#frames[slot] = frame
    this.#fields[slot] = field
  }

  /** Takes the frame that is offered; undefined when there is none. */
  take(): Frame | undefined {
    const frame = this.#frames[this.#first]
    if (this.#length === 0) return undefined
    this.#frames[this.#first] = undefined
    this.#first = this.#slot(1)
    this.#length--
    return frame
  }

  clear(): void {
    this.#frames.fill(undefined)
    this.#first = 0
    this.#length = 0
  }

  /** Slot of the frame that is `place` behind the first. */
  #slot(place: number): number {
    const slot = this.#first + place
    return slot <= this.#depth ? slot : slot - this.#depth - 1
  }
}
