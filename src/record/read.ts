/** A recording read back: the same frames and events in the same order, in bounded memory. */
import { readFileSync } from 'node:fs'
import { join } from 'node:path'
import type { Nanos } from '../clock.js'
import { DrystrokeError } from '../errors.js'
import type { BenchEvent } from '../files/event.js'
import type { Frame } from '../wire/frame.js'
import { damaged } from './chunked-file.js'
import { EventReader } from './event-reader.js'
import { isFile, RECORDING_FILES } from './folder.js'
import { PcapngReader } from './pcapng-reader.js'
import { type Provenance, readProvenance } from './provenance.js'

/** What sees a replay. Frames may be kept; events too. */
export interface ReplaySink {
  frame(bus: number, frame: Frame, t: Nanos, sent: boolean): void
  event(e: BenchEvent): void
}

export interface Recording {
  readonly folder: string
  readonly rigText: string
  readonly scenarioText: string
  /** null when the file is missing or is none of ours: nothing of the judgement rests on it. */
  readonly provenance: Provenance | null
  /**
   * Gives all frames and events in their one order: an event with `after` = n comes behind the n-th frame.
   * `cut`: the recording does not reach its end; it was given up to where both files are whole. That is the last whole event, or
   * the last whole frame if that comes first: of what happened between later frames nothing is known.
   * @throws DrystrokeError `recording-invalid` on damage
   */
  replay(sink: ReplaySink): { readonly cut: boolean }
}

/** What was played. @throws DrystrokeError `recording-invalid` when a file is missing */
export function recordingTexts(folder: string): Pick<Recording, 'rigText' | 'scenarioText'> {
  return {
    rigText: text(folder, RECORDING_FILES.rig),
    scenarioText: text(folder, RECORDING_FILES.scenario),
  }
}

/** @throws DrystrokeError `recording-invalid` when a file is missing or the folder is no recording */
export function openRecording(folder: string): Recording {
  for (const file of [RECORDING_FILES.frames, RECORDING_FILES.events]) {
    if (!isFile(join(folder, file))) throw missing(folder, file)
  }
  return {
    folder,
    ...recordingTexts(folder),
    provenance: readProvenance(folder),
    replay: (sink) => replay(folder, sink),
  }
}

function replay(folder: string, sink: ReplaySink): { cut: boolean } {
  const frames = new PcapngReader(join(folder, RECORDING_FILES.frames))
  let events: EventReader | undefined
  try {
    events = new EventReader(join(folder, RECORDING_FILES.events))
    let count = 0
    let ended = false
    while (events.next()) {
      if (ended)
        throw damaged(
          join(folder, RECORDING_FILES.events),
          'after the event "end"',
          'another event',
          'the end of the file',
        )
      while (count < events.after) {
        // Events behind frames that were lost have no place any more: the recording ends here.
        if (!frames.next()) return { cut: true }
        count++
        sink.frame(frames.bus, frames.frame, frames.t, frames.sent)
      }
      ended = events.event!.kind === 'end'
      sink.event(events.event!)
    }
    // Without its end the events stop too early for the frames that follow: nothing is given that they may say more about.
    if (!ended) return { cut: true }
    while (frames.next()) sink.frame(frames.bus, frames.frame, frames.t, frames.sent)
    return { cut: events.cut || frames.cut }
  } finally {
    frames.close()
    events?.close()
  }
}

function text(folder: string, file: string): string {
  try {
    return readFileSync(join(folder, file), 'utf8')
  } catch (cause) {
    throw missing(folder, file, cause)
  }
}

function missing(folder: string, file: string, cause?: unknown): DrystrokeError {
  return new DrystrokeError(
    'recording-invalid',
    `${folder} is no recording: its file ${file} is missing or cannot be read. A recording is a folder with ` +
      `${Object.values(RECORDING_FILES).slice(0, 4).join(', ')}; give the folder that a run left, for example recordings/slow-ahead.`,
    { file: folder, missing: file },
    cause,
  )
}
