/**
 * The one order of a run: each frame and event goes to the recording, then to the judge, then the judge's new findings
 * to the bench. Findings wait until the judge has finished with what caused them, so that the frames of a stop come
 * after it for every watch: a judge that reads the recording later sees the same order.
 */
import type { BenchEvent, Finding } from '../files/event.js'
import type { RecordingWriter } from '../record/write.js'
import type { Judge } from '../verdict/judge.js'
import type { RunLog } from './bench.js'

/**
 * @param findings filled by the judge's `onFinding`, emptied here
 * @param onFinding what the bench does with one
 */
export function runLog(
  recording: RecordingWriter,
  judge: Judge,
  findings: Finding[],
  onFinding: (f: Finding) => void,
): RunLog {
  const drain = (): void => {
    while (findings.length > 0) onFinding(findings.shift()!)
  }
  return {
    frame(bus, frame, t, sent) {
      recording.frame(bus, frame, t, sent)
      judge.frame(bus, frame, t, sent)
      drain()
    },
    event(e: BenchEvent) {
      recording.event(e)
      judge.event(e)
      drain()
    },
  }
}
