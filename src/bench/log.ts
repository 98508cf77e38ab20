/**
 * The one order of a run: each frame and event goes to the recording, then to the judge, then the judge's new findings
 * to the bench. Findings wait until the judge has finished with what caused them, so that the frames of a stop come
 * after it for every watch: a judge that reads the recording later sees the same order.
 *
 * Nothing that goes wrong here may keep a frame of a stop from the bus: a full disk or a defect of a watch is kept,
 * told to the bench, which stops the arms, and thrown when the run is over.
 */
import type { Nanos } from '../clock.js'
import type { BenchEvent, Finding } from '../files/event.js'
import type { RecordingWriter } from '../record/write.js'
import type { Judge } from '../verdict/judge.js'
import type { RunLog } from './run-log.js'

export interface LogListeners {
  readonly onFinding: (f: Finding) => void
  /** The first failure only. */
  readonly onFailure: (error: unknown) => void
}

export interface JudgedLog extends RunLog {
  /** What went wrong first, or null. */
  readonly failure: { readonly error: unknown } | null
  /** Hands what was recorded to the operating system. */
  flush(): void
}

/** @param findings filled by the judge's `onFinding`, emptied here */
export function runLog(
  recording: Pick<RecordingWriter, 'frame' | 'event' | 'flush'>,
  judge: Pick<Judge, 'frame' | 'event'>,
  findings: Finding[],
  { onFinding, onFailure }: LogListeners,
): JudgedLog {
  let failure: { error: unknown } | null = null
  const fail = (error: unknown): void => {
    if (failure) return
    failure = { error }
    onFailure(error)
  }
  let draining = false
  let latest: Nanos = 0
  const drain = (): void => {
    // What the bench does about a finding is logged too: the first is dealt with whole before the second.
    if (draining) return
    draining = true
    try {
      while (findings.length > 0) onFinding(findings.shift()!)
    } finally {
      draining = false
    }
  }
  return {
    get failure() {
      return failure
    },
    flush() {
      try {
        recording.flush()
      } catch (error) {
        fail(error)
      }
      drain()
    },
    frame(bus, frame, arrived, sent) {
      // In real time the mock bus tells of a frame later than the time that it bears; times of a recording never fall.
      const t = arrived > latest ? arrived : latest
      latest = t
      // What was not recorded must not be judged either: the two see the same or nothing.
      try {
        recording.frame(bus, frame, t, sent)
        judge.frame(bus, frame, t, sent)
      } catch (error) {
        fail(error)
      }
      drain()
    },
    event(e: BenchEvent) {
      try {
        recording.event(e)
        judge.event(e)
      } catch (error) {
        fail(error)
      }
      drain()
    },
  }
}
