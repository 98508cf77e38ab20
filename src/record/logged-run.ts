/**
 * A run whose frames somebody else logged: the run's own events, and the frames as candump saw them. What a recording
 * says of the bus then no longer rests on our word alone.
 *
 * Direction is not in such a log: a frame that the recording has too has the recording's. Another one counts as sent by
 * us only where there is no whole recording to know better, and only with an identifier that is ours alone.
 */
import { join } from 'node:path'
import type { Nanos } from '../clock.js'
import { DrystrokeError } from '../errors.js'
import type { BenchEvent } from '../files/event.js'
import type { Rig } from '../files/rig.js'
import { Decoder } from '../wire/decoder.js'
import { EventReader } from './event-reader.js'
import { isFile, RECORDING_FILES } from './folder.js'
import { type FrameLog, readFrameLog } from './frame-log.js'
import { PcapngReader } from './pcapng-reader.js'
import { placeEvents } from './place-events.js'
import type { ReplaySink } from './read.js'
import { clockOffset, matchFrames, type Placed } from './same-frames.js'

/** How the log and the recording agree. */
export interface LogFacts {
  /** s, time of the log's clock at the run's time zero. */
  readonly clockOffset: number
  /** Frames of the log that belong to the run, and those before or after it or of no bus of the rig. */
  readonly taken: number
  readonly left: number
  /** Frames of the recording, 0: it has none; and how many of them are in the log too. */
  readonly recorded: number
  readonly found: number
  /** ns, of frames in both: the largest difference of their times with the clock offset taken out. */
  readonly apart: Nanos
  /** False: the run's events are missing. */
  readonly events: boolean
}

export interface LoggedRun {
  readonly facts: LogFacts
  /** Gives all frames and events in one order, findings left out: they are to be made anew. */
  replay(sink: ReplaySink): void
}

interface RecordedFrame extends Placed {
  readonly sent: boolean
}

interface RecordedEvent {
  readonly t: Nanos
  readonly after: number
  readonly event: BenchEvent
}

interface TakenFrame extends RecordedFrame {
  /** Index of the recorded frame that it is, -1: none. */
  readonly recorded: number
}

/**
 * @param folder recording: the run's events, and its frames where it has them
 * @param given s, time of the log's clock at the run's time zero; undefined: found from frames that both have
 * @throws DrystrokeError `recording-invalid`, `file-access`, `file-invalid`; `usage` when no clock offset is given or found
 */
export function openLoggedRun(folder: string, log: string, rig: Rig, given?: number): LoggedRun {
  const logged = readFrameLog(log, rig.buses)
  const events = readEvents(folder)
  const recorded = readFrames(folder, events)
  const offset =
    given === undefined ? offsetOf(logged, recorded.frames, events, folder) : since(logged, given)
  const frames = runFrames(logged, recorded, events, offset, rig)
  const both = frames.filter((f) => f.recorded >= 0)
  refuseStranger(log, folder, both.length, recorded.frames.length)
  const apart = both.reduce((most, f) => Math.max(most, Math.abs(f.t - recorded.frames[f.recorded]!.t)), 0)
  const all = withGaps(events, rig, recorded.frames, both)
  return {
    facts: {
      clockOffset: logged.origin + offset / 1e9,
      taken: frames.length,
      left: logged.frames.length - frames.length + logged.elsewhere,
      recorded: recorded.frames.length,
      found: both.length,
      apart,
      events: events.length > 0,
    },
    replay(sink) {
      const places = placeEvents(all, frames, recorded.frames.length)
      let next = 0
      for (const [i, { bus, frame, t, sent }] of frames.entries()) {
        while (next < all.length && places[next]! <= i) sink.event(all[next++]!.event)
        sink.frame(bus, frame, t, sent)
      }
      while (next < all.length) sink.event(all[next++]!.event)
    },
  }
}

/** The log's frames that belong to the run, in the run's time. */
function runFrames(
  log: FrameLog,
  recorded: { readonly frames: readonly RecordedFrame[]; readonly whole: boolean },
  events: readonly RecordedEvent[],
  offset: Nanos,
  rig: Rig,
): TakenFrame[] {
  const matches = matchFrames(recorded.frames, log.frames, offset)
  const isOurs = ownIdentifiers(rig)
  const from = events[0]?.t ?? 0
  const to = events.at(-1)?.t ?? Number.POSITIVE_INFINITY
  return log.frames.flatMap((f, i) => {
    const match = matches[i]!
    const t = f.t - offset
    if (match < 0 && (t < from || t > to)) return []
    const sent = match < 0 ? !recorded.whole && isOurs(f) : recorded.frames[match]!.sent
    return [{ bus: f.bus, frame: f.frame, t: Math.max(t, from), recorded: match, sent }]
  })
}

/** Says before the last event how many recorded frames of a bus the log has not. */
function withGaps(
  events: readonly RecordedEvent[],
  rig: Rig,
  recorded: readonly RecordedFrame[],
  found: readonly TakenFrame[],
): RecordedEvent[] {
  const last = events.at(-1)
  if (last === undefined) return []
  const missing = rig.buses.map(() => 0)
  for (const { bus } of recorded) missing[bus]!++
  for (const { bus } of found) missing[bus]!--
  const gaps = rig.buses.flatMap(({ index, name }): RecordedEvent[] => {
    const event: BenchEvent = { kind: 'gap', t: last.t, place: name, frames: missing[index]! }
    return event.frames > 0 ? [{ t: last.t, after: last.after, event }] : []
  })
  return [...events.slice(0, -1), ...gaps, last]
}

/** A log with less than half of what was recorded is no evidence of this run, or stands at the wrong time. */
function refuseStranger(log: string, folder: string, found: number, recorded: number): void {
  if (2 * found >= recorded) return
  throw new DrystrokeError(
    'usage',
    `${log}: only ${found} of the ${recorded} frames that ${folder} recorded are in ${log} at their times; expected nearly all. ` +
      'Use the log that was written during this very run, from its start to its end; if --clock-offset was given, check it.',
    { file: log },
  )
}

/** ns between the log's times, which count from its origin, and the run's. */
function since({ origin }: FrameLog, given: number): Nanos {
  return Math.round((given - origin) * 1e9)
}

function offsetOf(
  log: FrameLog,
  recorded: readonly Placed[],
  events: readonly RecordedEvent[],
  folder: string,
): Nanos {
  const found = clockOffset(recorded, log.frames)
  if (found !== null) return found
  // Without events and frames there is no other time than the log's own.
  if (events.length === 0) return log.frames[0]!.t
  const why =
    recorded.length === 0
      ? `${folder} has no ${RECORDING_FILES.frames}`
      : `hardly a frame of ${log.file} is in ${folder} too`
  throw new DrystrokeError(
    'usage',
    `The time of the log's clock at the start of the run is not known: ${why}. Use the log that was written during ` +
      "this very run, or give that time, such as --clock-offset '1700000000.25 s'.",
    { file: log.file },
  )
}

function readFrames(
  folder: string,
  events: readonly RecordedEvent[],
): { frames: RecordedFrame[]; whole: boolean } {
  const path = join(folder, RECORDING_FILES.frames)
  if (!isFile(path)) return { frames: [], whole: false }
  const reader = new PcapngReader(path)
  try {
    const frames: RecordedFrame[] = []
    while (reader.next()) {
      const { bus, frame, t, sent } = reader
      frames.push({ bus, frame, t, sent })
    }
    // Own frames that were lost on the way to the recording would read as those of a second sender.
    const lost = events.some(({ event }) => event.kind === 'lost')
    return { frames, whole: frames.length > 0 && !reader.cut && !lost }
  } finally {
    reader.close()
  }
}

function readEvents(folder: string): RecordedEvent[] {
  const path = join(folder, RECORDING_FILES.events)
  if (!isFile(path)) return []
  const reader = new EventReader(path)
  try {
    const events: RecordedEvent[] = []
    while (reader.next()) {
      const event = reader.event!
      if (event.kind !== 'finding') events.push({ t: event.t, after: reader.after, event })
    }
    return events
  } finally {
    reader.close()
  }
}

/** Whether only the harness may send a frame: the decoder calls it foreign when somebody else did. */
function ownIdentifiers(rig: Rig): (f: Placed) => boolean {
  let foreign = false
  const decoder = new Decoder(rig, (o) => {
    if (o.kind === 'foreign') foreign = true
  })
  return ({ bus, frame, t }) => {
    foreign = false
    decoder.see(bus, frame, t, false)
    return foreign
  }
}
