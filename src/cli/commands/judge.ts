/** `drystroke judge`: the verdict of a recording, worked out anew from its frames and events. */
import { dirname, join } from 'node:path'
import { DrystrokeError, type ExitStatus } from '../../errors.js'
import { isFile, RECORDING_FILES } from '../../record/folder.js'
import { readProvenance } from '../../record/provenance.js'
import { separationAid, separationBlock } from '../../report/separation.js'
import { findingsBlock, verdictTable } from '../../report/terminal.js'
import { verdictJson } from '../../report/verdict-json.js'
import { writeReports } from '../../report/write.js'
import { exitStatus } from '../../verdict/exit.js'
import { judgeRecording } from '../../verdict/judge-recording.js'
import { columnsOf, hasColour } from '../screen.js'
import { factsInWords, judgeLog } from './judge-log.js'

export interface JudgeArguments {
  readonly folder: string
  readonly json: boolean
  /** candump log whose frames are judged in place of the recording's. */
  readonly frames: string | undefined
  /** s */
  readonly clockOffset: number | undefined
}

/**
 * Shows the verdict, then writes it, junit.xml and the report into the recording folder anew; where that is not possible
 * the verdict still stands, and a warning says so. With `frames` all this goes to a new folder beside it.
 */
export function judge({ folder: given, json, frames, clockOffset }: JudgeArguments): ExitStatus {
  refuseFile(given)
  const byLog = frames === undefined ? null : judgeLog(given, frames, clockOffset)
  const judged = byLog === null ? judgeRecording(given) : byLog.judged
  const folder = byLog === null ? given : byLog.folder
  const { verdict } = judged.judgement
  const screen = { colour: hasColour(process.stdout), width: columnsOf(process.stdout) }
  if (json) process.stdout.write(verdictJson(verdict))
  else {
    const block = findingsBlock(verdict, screen)
    const aid = separationAid(judged.rig, readProvenance(given))
    process.stdout.write(
      `${verdictTable([verdict], screen)}${block && `\n${block}`}\n${separationBlock(aid, screen.width)}`,
    )
  }
  if (byLog !== null) {
    const where =
      folder === null ? 'Nothing was written: there are no events to keep.\n' : `Recording: ${folder}\n`
    process[json ? 'stderr' : 'stdout'].write(`${factsInWords(byLog.judged.facts, screen.width)}${where}`)
  }
  if (folder === null) return exitStatus(verdict)
  try {
    writeReports(folder, judged)
  } catch (error) {
    if (!(error instanceof DrystrokeError) || error.code !== 'file-access') throw error
    process.stderr.write(`The verdict stands, its reports were not all written: ${error.message}\n`)
  }
  return exitStatus(verdict)
}

function refuseFile(folder: string): void {
  if (!isFile(folder)) return
  const above = dirname(folder)
  const advice = isFile(join(above, RECORDING_FILES.events)) ? `drystroke judge ${above}` : 'give that folder'
  throw new DrystrokeError(
    'recording-invalid',
    `${folder} is a file; a recording is the folder that a run left: ${advice}`,
    { file: folder },
  )
}
