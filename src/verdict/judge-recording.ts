/** The judge on a recording: the same fold, fed from files instead of a running bench. */
import { join } from 'node:path'
import { loadRig, loadScenario } from '../files/load.js'
import type { Rig } from '../files/rig.js'
import type { Scenario } from '../files/scenario.js'
import { RECORDING_FILES } from '../record/folder.js'
import { openRecording } from '../record/read.js'
import { type WatchSettings, watchSchemas } from '../watch/settings.js'
import { Judge, type Judgement } from './judge.js'

export interface JudgedRun {
  readonly judgement: Judgement
  readonly rig: Rig<WatchSettings>
  readonly scenario: Scenario
}

/** @throws DrystrokeError `recording-invalid`, or `file-invalid` when its rig or scenario no longer fits the schemas */
export function judgeRecording(folder: string): JudgedRun {
  const recording = openRecording(folder)
  const rig = loadRig(recording.rigText, join(folder, RECORDING_FILES.rig), watchSchemas)
  const scenario = loadScenario(recording.scenarioText, join(folder, RECORDING_FILES.scenario), rig)
  const judge = new Judge(rig, scenario)
  recording.replay(judge)
  return { judgement: judge.close(), rig, scenario }
}
