/** `drystroke judge`: the verdict of a recording, worked out anew from its frames and events. */
import type { ExitStatus } from '../../errors.js'
import { findingsBlock, verdictTable } from '../../report/terminal.js'
import { verdictJson } from '../../report/verdict-json.js'
import { writeReports } from '../../report/write.js'
import { exitStatus } from '../../verdict/exit.js'
import { judgeRecording } from '../../verdict/judge-recording.js'
import { hasColour } from '../screen.js'

export interface JudgeArguments {
  readonly folder: string
  readonly json: boolean
}

/** Writes verdict, junit.xml and report into the recording folder anew. */
export function judge({ folder, json }: JudgeArguments): ExitStatus {
  const judged = judgeRecording(folder)
  writeReports(folder, judged)
  const { verdict } = judged.judgement
  const screen = { colour: hasColour(process.stdout) }
  if (json) process.stdout.write(verdictJson(verdict))
  else process.stdout.write(verdictTable([verdict], screen) + findingsBlock(verdict, screen))
  return exitStatus(verdict)
}
