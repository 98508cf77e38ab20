/** Verdict and reports of a run into its recording folder, each whole or not at all. */
import { join } from 'node:path'
import type { Rig } from '../files/rig.js'
import type { Scenario } from '../files/scenario.js'
import { RECORDING_FILES, writeWhole } from '../record/folder.js'
import { openRecording } from '../record/read.js'
import type { Judgement } from '../verdict/judge.js'
import { watchSettings } from '../verdict/watch-settings.js'
import { junitXml } from './junit.js'
import { reportHtml } from './page/report.js'
import { verdictJson } from './verdict-json.js'

/** @throws DrystrokeError `file-access` */
export function writeReports(
  folder: string,
  { judgement, rig, scenario }: { judgement: Judgement; rig: Rig; scenario: Scenario },
): void {
  const { verdict, trace, stages } = judgement
  const { provenance, rigText } = openRecording(folder)
  writeWhole(join(folder, RECORDING_FILES.junit), junitXml([verdict]))
  writeWhole(
    join(folder, RECORDING_FILES.report),
    reportHtml({ verdict, trace, rig, scenario, stages, provenance, settings: watchSettings(rigText) }),
  )
  // Last: whoever waits for the verdict finds the reports with it.
  writeWhole(join(folder, RECORDING_FILES.verdict), verdictJson(verdict))
}
