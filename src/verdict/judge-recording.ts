/** The judge on a recording: the same fold, fed from files instead of a running bench. */
import { join } from 'node:path'
import type { Finding } from '../files/event.js'
import { loadRig, loadScenario } from '../files/load.js'
import type { Rig } from '../files/rig.js'
import type { Scenario } from '../files/scenario.js'
import { RECORDING_FILES } from '../record/folder.js'
import { readGuardianAccount } from '../record/guardian-file.js'
import { type LogFacts, openLoggedRun } from '../record/logged-run.js'
import { openRecording, type ReplaySink, recordingTexts } from '../record/read.js'
import { type WatchSettings, watchSchemas } from '../watch/settings.js'
import { guardianFinding } from './guardian.js'
import { Judge, type Judgement } from './judge.js'

export interface JudgedRun {
  readonly judgement: Judgement
  readonly rig: Rig<WatchSettings>
  readonly scenario: Scenario
}

/** @throws DrystrokeError `recording-invalid`, or `file-invalid` when its rig or scenario no longer fits the schemas */
export function judgeRecording(folder: string): JudgedRun {
  const recording = openRecording(folder)
  const { rig, scenario } = inputsOf(folder)
  const judge = new Judge(rig, scenario)
  recording.replay(judge)
  const account = guardianFinding(readGuardianAccount(folder), rig.guardian.timeout)
  if (account) judge.add(account)
  return { judgement: judge.close(), rig, scenario }
}

/** A run judged by frames that somebody else logged, and how that log agrees with the recording. */
export interface JudgedByLog extends JudgedRun {
  readonly facts: LogFacts
}

/**
 * @param folder recording: rig, scenario, and the run's events and frames where it has them
 * @param log candump log of the run
 * @param clockOffset s, time of the log's clock at the run's time zero; undefined: found from frames that both have
 * @param open called when all is read and good; what it gives is shown all that the judge sees, in the same order, and
 *   each new finding behind what it was made of
 * @throws DrystrokeError `recording-invalid`, `file-access`, `file-invalid`; `usage` when no clock offset is given or found
 */
export function judgeByLog(
  folder: string,
  log: string,
  clockOffset: number | undefined,
  open: (rig: Rig) => ReplaySink,
): JudgedByLog {
  const { rig, scenario } = inputsOf(folder)
  const run = openLoggedRun(folder, log, rig, clockOffset)
  const also = open(rig)
  const findings: Finding[] = []
  const judge = new Judge(rig, scenario, { onFinding: (f) => findings.push(f) })
  const tell = (): void => {
    for (const f of findings.splice(0)) also.event({ kind: 'finding', ...f })
  }
  run.replay({
    frame(bus, frame, t, sent) {
      also.frame(bus, frame, t, sent)
      judge.frame(bus, frame, t, sent)
      tell()
    },
    event(e) {
      // A file of events ends with the end.
      if (e.kind !== 'end') also.event(e)
      judge.event(e)
      tell()
      if (e.kind === 'end') also.event(e)
    },
  })
  return { judgement: judge.close(), rig, scenario, facts: run.facts }
}

function inputsOf(folder: string): Pick<JudgedRun, 'rig' | 'scenario'> {
  const { rigText, scenarioText } = recordingTexts(folder)
  const rig = loadRig(rigText, join(folder, RECORDING_FILES.rig), watchSchemas)
  return { rig, scenario: loadScenario(scenarioText, join(folder, RECORDING_FILES.scenario), rig) }
}
