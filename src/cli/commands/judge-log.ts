/** The part of `drystroke judge` for a run whose frames somebody else logged: the log's run as a recording of its own. */
import { basename, dirname, join, resolve } from 'node:path'
import { isFile, RECORDING_FILES, recordingFolder } from '../../record/folder.js'
import type { LogFacts } from '../../record/logged-run.js'
import { provenanceNow } from '../../record/provenance.js'
import { openRecording, type ReplaySink, recordingTexts } from '../../record/read.js'
import { RecordingWriter } from '../../record/write.js'
import { wrap } from '../../report/wrap.js'
import { type JudgedByLog, judgeByLog } from '../../verdict/judge-recording.js'

export interface JudgedLog {
  readonly judged: JudgedByLog
  /** New recording beside the one that was given, or null: without events there is none. */
  readonly folder: string | null
}

const NOWHERE: ReplaySink = { frame: () => {}, event: () => {} }

/**
 * @param clockOffset s, or undefined: to be found
 * @throws DrystrokeError; then nothing was written
 */
export function judgeLog(folder: string, log: string, clockOffset: number | undefined): JudgedLog {
  if (!isFile(join(folder, RECORDING_FILES.events))) {
    return { judged: judgeByLog(folder, log, clockOffset, () => NOWHERE), folder: null }
  }
  const given = resolve(folder)
  let writer: RecordingWriter | undefined
  try {
    const judged = judgeByLog(folder, log, clockOffset, ({ buses }) => {
      writer = new RecordingWriter(recordingFolder(dirname(given), `${basename(given)}-by-log`), {
        ...recordingTexts(folder),
        buses,
        provenance: provenanceOf(folder),
      })
      return writer
    })
    return { judged, folder: writer!.folder }
  } finally {
    writer?.close()
  }
}

/** Whose arms it was and from which files is the run's; the rest is of now. */
function provenanceOf(folder: string) {
  const run = isFile(join(folder, RECORDING_FILES.frames)) ? openRecording(folder).provenance : null
  if (run === null) return provenanceNow({ rigFile: '', scenarioFile: '', arms: 'real' })
  const { rigFile, scenarioFile, arms, overallStop } = run
  return provenanceNow({ rigFile, scenarioFile, arms, ...(overallStop ? { overallStop } : {}) })
}

/** How far the log and the recording are at one, in words. Ends with a newline. */
export function factsInWords(f: LogFacts, width: number): string {
  const left = f.left === 0 ? '' : `, ${f.left} of other times or buses left out`
  const words = [`Judged by the log's ${f.taken} frames${left}.`]
  if (f.recorded > 0) {
    words.push(
      `${f.found} of the recording's ${f.recorded} frames are in the log, at times at most ${(f.apart / 1e6).toFixed(3)} ms apart.`,
    )
  }
  if (f.events) words.push(`The log's clock stood at ${f.clockOffset.toFixed(6)} s when the run began.`)
  return `${wrap(words.join(' '), width, 0).join('\n')}\n`
}
