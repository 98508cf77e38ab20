/** The recording of a run while it is made: frames and events in the order in which they happened. */
import { rmdirSync, rmSync } from 'node:fs'
import { join } from 'node:path'
import { type Nanos, wall } from '../clock.js'
import type { BenchEvent } from '../files/event.js'
import type { BusSettings } from '../files/rig.js'
import type { Frame } from '../wire/frame.js'
import { AppendFile } from './append-file.js'
import { makeFolder, RECORDING_FILES, writeWhole } from './folder.js'
import { type Provenance, readProvenance } from './provenance.js'
import { RECORD_CAPACITY, RecordBytes } from './record-bytes.js'

export interface RecordingTexts {
  /** Text of the rig file, kept as it is. */
  readonly rigText: string
  readonly scenarioText: string
  readonly provenance: Provenance
}

export interface RecordingContents extends RecordingTexts {
  /** In the order of their indices. */
  readonly buses: readonly Pick<BusSettings, 'name' | 'bitrate'>[]
}

/** Bytes of either file. */
export interface RecordedLength {
  readonly frames: number
  readonly events: number
}

/** A recording whose frames and events come as the bytes of their files, made elsewhere by `RecordBytes`. */
export class RecordingFiles {
  readonly folder: string
  readonly frames: AppendFile
  readonly events: AppendFile
  readonly #provenance: Provenance | null
  #length: RecordedLength
  #closed = false

  /**
   * Makes the folder, with rig, scenario and provenance in it.
   * @throws DrystrokeError `file-access`, also when the folder is already there
   */
  static create(folder: string, { rigText, scenarioText, provenance }: RecordingTexts): RecordingFiles {
    makeFolder(folder)
    writeWhole(join(folder, RECORDING_FILES.rig), rigText)
    writeWhole(join(folder, RECORDING_FILES.scenario), scenarioText)
    writeProvenance(folder, provenance)
    return new RecordingFiles(folder, provenance, null)
  }

  /** Of a run that never began: closes, and takes away what `create` made; a folder in which there is something else stays. */
  discard(): void {
    if (this.#closed) return
    this.#closed = true
    this.frames.close()
    this.events.close()
    for (const name of MADE) rmSync(join(this.folder, RECORDING_FILES[name]), { force: true })
    try {
      rmdirSync(this.folder)
    } catch (error) {
      if ((error as NodeJS.ErrnoException).code !== 'ENOTEMPTY') throw error
    }
  }

  /** Goes on with a recording whose writer has died, behind what is known to be whole. @throws DrystrokeError `file-access` */
  static takeOver(folder: string, whole: RecordedLength): RecordingFiles {
    return new RecordingFiles(folder, readProvenance(folder), whole)
  }

  private constructor(folder: string, provenance: Provenance | null, from: RecordedLength | null) {
    this.folder = folder
    this.#provenance = provenance
    this.#length = from ?? { frames: 0, events: 0 }
    const open = (file: 'frames' | 'events'): AppendFile =>
      new AppendFile(join(folder, RECORDING_FILES[file]), RECORD_CAPACITY[file], from?.[file] ?? null)
    this.frames = open('frames')
    this.events = open('events')
  }

  /** What was appended so far. */
  get length(): RecordedLength {
    return this.#length
  }

  /** Hands bytes to the operating system: a kill of this process loses nothing of them. @throws DrystrokeError `file-access` */
  append(frames: Uint8Array, events: Uint8Array): void {
    this.frames.write(frames)
    this.events.write(events)
    this.#length = {
      frames: this.#length.frames + frames.length,
      events: this.#length.events + events.length,
    }
  }

  close(): void {
    if (this.#closed) return
    this.#closed = true
    this.frames.close()
    this.events.close()
    if (this.#provenance) writeProvenance(this.folder, { ...this.#provenance, ended: wall.stamp() })
  }
}

/** By `RecordingFiles.create`. */
const MADE = ['rig', 'scenario', 'provenance', 'frames', 'events'] as const

export class RecordingWriter {
  readonly folder: string
  readonly #files: RecordingFiles
  readonly #bytes: RecordBytes

  /**
   * Makes the folder, with rig, scenario and provenance in it.
   * @throws DrystrokeError `file-access`, also when the folder is already there
   */
  constructor(folder: string, contents: RecordingContents) {
    this.folder = folder
    this.#files = RecordingFiles.create(folder, contents)
    this.#bytes = new RecordBytes(this.#files.frames, this.#files.events, contents.buses)
  }

  /** @param bus index; @param sent true: from us to the bus */
  frame(bus: number, frame: Frame, t: Nanos, sent: boolean): void {
    this.#bytes.frame(bus, frame, t, sent)
  }

  event(e: BenchEvent): void {
    this.#bytes.event(e)
  }

  /** Hands everything to the operating system: a kill of this process loses nothing of it. */
  flush(): void {
    this.#bytes.flush()
  }

  close(): void {
    this.#files.close()
  }
}

function writeProvenance(folder: string, provenance: Provenance): void {
  writeWhole(join(folder, RECORDING_FILES.provenance), `${JSON.stringify(provenance, null, 2)}\n`)
}
