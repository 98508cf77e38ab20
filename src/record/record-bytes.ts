/** Frames and events as the bytes of their two files, wherever those are kept. */
import type { Nanos } from '../clock.js'
import type { BenchEvent } from '../files/event.js'
import type { BusSettings } from '../files/rig.js'
import type { Frame } from '../wire/frame.js'
import type { AppendBuffer } from './append-buffer.js'
import { EventWriter } from './event-writer.js'
import { PcapngWriter } from './pcapng-writer.js'

/** Bytes of a buffer that holds many records of either file. */
export const RECORD_CAPACITY = { frames: 1 << 20, events: 1 << 18 } as const

export class RecordBytes {
  readonly #frames: PcapngWriter
  readonly #events: EventWriter
  #count = 0

  /** The head of `frames` is written at once. @param buses in the order of their indices */
  constructor(
    frames: AppendBuffer,
    events: AppendBuffer,
    buses: readonly Pick<BusSettings, 'name' | 'bitrate'>[],
  ) {
    this.#frames = new PcapngWriter(frames, buses)
    this.#events = new EventWriter(events)
  }

  /** @param bus index; @param sent true: from us to the bus */
  frame(bus: number, frame: Frame, t: Nanos, sent: boolean): void {
    this.#count++
    this.#frames.frame(bus, frame, t, sent)
  }

  event(e: BenchEvent): void {
    this.#events.event(e, this.#count)
  }

  flush(): void {
    this.#frames.flush()
    this.#events.flush()
  }
}
