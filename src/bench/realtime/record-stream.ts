/**
 * Records of a run on their way to whoever writes them: to the parent, and when it is lost to the files themselves.
 * Nothing here waits. What is not known to be written is kept, up to a bound; beyond it frames and ticks are dropped,
 * counted, and told as the event `lost` before the next record that is kept.
 */
import type { Nanos } from '../../clock.js'
import type { BenchEvent } from '../../files/event.js'
import type { BusSettings } from '../../files/rig.js'
import { AppendBuffer } from '../../record/append-buffer.js'
import { RECORD_CAPACITY, RecordBytes } from '../../record/record-bytes.js'
import { type RecordedLength, RecordingFiles } from '../../record/write.js'
import type { Frame } from '../../wire/frame.js'
import { encodeRecords } from './message.js'

/** Of the bound: once it was reached, records are dropped until no more than this waits. */
const EASED = 0.5

class Collected extends AppendBuffer {
  #pieces: Uint8Array[] = []

  protected write(bytes: Uint8Array): void {
    this.#pieces.push(Uint8Array.from(bytes))
  }

  take(): Uint8Array {
    this.flush()
    const pieces = this.#pieces
    this.#pieces = []
    return pieces.length === 1 ? pieces[0]! : Buffer.concat(pieces)
  }
}

interface Kept {
  readonly frames: Uint8Array
  readonly events: Uint8Array
}

export class RecordStream {
  readonly #frames = new Collected(RECORD_CAPACITY.frames)
  readonly #events = new Collected(RECORD_CAPACITY.events)
  readonly #bytes: RecordBytes
  readonly #send: (message: Uint8Array) => void
  readonly #bound: number
  /** In order: what is not known to be written. */
  readonly #kept: Kept[] = []
  #waiting = 0
  /** Where the first of `#kept` begins. */
  #written: RecordedLength = { frames: 0, events: 0 }
  #files: RecordingFiles | null = null
  #dropping = false
  #lost = { frames: 0, ticks: 0 }

  /** @param send hands a message over and does not wait; @param bound bytes that may wait to be written */
  constructor(
    buses: readonly Pick<BusSettings, 'name' | 'bitrate'>[],
    send: (message: Uint8Array) => void,
    bound: number,
  ) {
    this.#bytes = new RecordBytes(this.#frames, this.#events, buses)
    this.#send = send
    this.#bound = bound
  }

  /** Is everything known to be written? */
  get allWritten(): boolean {
    return this.#waiting === 0 && this.#frames.used === 0 && this.#events.used === 0
  }

  frame(bus: number, frame: Frame, t: Nanos, sent: boolean): void {
    if (this.#dropping) {
      this.#lost.frames++
      return
    }
    this.#tellLost(t)
    this.#bytes.frame(bus, frame, t, sent)
  }

  /** Events other than ticks are few, and say why a run stopped: they are never dropped. */
  event(e: BenchEvent): void {
    if (this.#dropping && e.kind === 'tick') {
      this.#lost.ticks++
      return
    }
    this.#tellLost(e.t)
    this.#bytes.event(e)
  }

  /** Sends what came in since the last time: once a tick. */
  flush(): void {
    const frames = this.#frames.take()
    const events = this.#events.take()
    const count = frames.length + events.length
    if (count === 0) return
    if (this.#files) {
      this.#files.append(frames, events)
      return
    }
    this.#kept.push({ frames, events })
    this.#waiting += count
    if (this.#waiting > this.#bound) this.#dropping = true
    this.#send(encodeRecords(frames, events))
  }

  /** So much of either file is written. */
  written(length: RecordedLength): void {
    const at = { ...this.#written }
    while (this.#kept.length > 0) {
      const { frames, events } = this.#kept[0]!
      if (at.frames + frames.length > length.frames || at.events + events.length > length.events) break
      at.frames += frames.length
      at.events += events.length
      this.#waiting -= frames.length + events.length
      this.#kept.shift()
    }
    this.#written = at
    if (this.#waiting <= this.#bound * EASED) this.#dropping = false
  }

  /**
   * Whoever wrote is gone: writes all that is not known to be written behind what is, and from now on to the files.
   * @throws DrystrokeError `file-access`
   */
  takeOver(folder: string): void {
    if (this.#files) return
    this.#files = RecordingFiles.takeOver(folder, this.#written)
    for (const { frames, events } of this.#kept.splice(0)) this.#files.append(frames, events)
    this.#waiting = 0
    this.#dropping = false
    this.flush()
  }

  /** Only after `takeOver`: the recording is at its end. */
  close(): void {
    this.flush()
    this.#files?.close()
  }

  #tellLost(t: Nanos): void {
    const { frames, ticks } = this.#lost
    if (frames === 0 && ticks === 0) return
    this.#lost = { frames: 0, ticks: 0 }
    this.#bytes.event({ kind: 'lost', t, frames, ticks })
  }
}
