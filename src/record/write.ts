/** The recording of a run while it is made: frames and events in the order in which they happened. */
import { join } from 'node:path'
import { type Nanos, wall } from '../clock.js'
import type { BenchEvent } from '../files/event.js'
import type { BusSettings } from '../files/rig.js'
import type { Frame } from '../wire/frame.js'
import { EventWriter } from './event-writer.js'
import { makeFolder, RECORDING_FILES, writeWhole } from './folder.js'
import { PcapngWriter } from './pcapng-writer.js'
import type { Provenance } from './provenance.js'

export interface RecordingContents {
  /** Text of the rig file, kept as it is. */
  readonly rigText: string
  readonly scenarioText: string
  /** In the order of their indices. */
  readonly buses: readonly Pick<BusSettings, 'name' | 'bitrate'>[]
  readonly provenance: Provenance
}

export class RecordingWriter {
  readonly folder: string
  readonly #frames: PcapngWriter
  readonly #events: EventWriter
  readonly #provenance: Provenance
  #count = 0
  #closed = false

  /**
   * Makes the folder, with rig, scenario and provenance in it.
   * @throws DrystrokeError `file-access`, also when the folder is already there
   */
  constructor(folder: string, contents: RecordingContents) {
    this.folder = folder
    this.#provenance = contents.provenance
    makeFolder(folder)
    writeWhole(join(folder, RECORDING_FILES.rig), contents.rigText)
    writeWhole(join(folder, RECORDING_FILES.scenario), contents.scenarioText)
    this.#writeProvenance(null)
    this.#frames = new PcapngWriter(join(folder, RECORDING_FILES.frames), contents.buses)
    this.#events = new EventWriter(join(folder, RECORDING_FILES.events))
  }

  /** @param bus index; @param sent true: from us to the bus */
  frame(bus: number, frame: Frame, t: Nanos, sent: boolean): void {
    this.#count++
    this.#frames.frame(bus, frame, t, sent)
  }

  event(e: BenchEvent): void {
    this.#events.event(e, this.#count)
  }

  /** Hands everything to the operating system: a kill of this process loses nothing of it. */
  flush(): void {
    this.#frames.flush()
    this.#events.flush()
  }

  close(): void {
    if (this.#closed) return
    this.#closed = true
    this.#frames.close()
    this.#events.close()
    this.#writeProvenance(wall.stamp())
  }

  #writeProvenance(ended: string | null): void {
    const text = JSON.stringify({ ...this.#provenance, ended }, null, 2)
    writeWhole(join(this.folder, RECORDING_FILES.provenance), `${text}\n`)
  }
}
