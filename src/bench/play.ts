/** One scenario from its files to a finished recording folder, in virtual time. Real time: realtime/play.ts. */

import { wall } from '../clock.js'
import type { Driver } from '../driver/contract.js'
import { resolvedRigText, resolvedScenarioText } from '../files/resolved-text.js'
import type { Rig } from '../files/rig.js'
import type { Scenario } from '../files/scenario.js'
import { recordingFolder } from '../record/folder.js'
import { provenanceNow } from '../record/provenance.js'
import { RecordingWriter } from '../record/write.js'
import { writeReports } from '../report/write.js'
import type { Verdict } from '../verdict/verdict.js'
import { type WatchSettings, watchSchemas } from '../watch/settings.js'
import type { Interrupt } from './interrupt.js'
import { runVirtual } from './virtual.js'
import { withDriver } from './with-driver.js'

export interface PlayRequest {
  readonly rig: Rig<WatchSettings>
  readonly rigText: string
  readonly rigFile: string
  readonly scenario: Scenario
  readonly scenarioText: string
  readonly scenarioFile: string
  readonly outDir: string
  readonly seed: number
  readonly interrupt?: Interrupt
  readonly onProgress?: (scenarioTime: number | null, stage: string) => void
  /** Each line that a driver under test says for people. */
  readonly onSaid?: ((line: string) => void) | undefined
}

export interface PlayResult {
  readonly verdict: Verdict
  /** The recording. */
  readonly folder: string
}

/** @throws DrystrokeError `file-access` when the recording cannot be written, `driver-access`: then nothing is */
export function playScenario(request: PlayRequest): Promise<PlayResult> {
  return withDriver(request, (driver) => playWith(driver, request))
}

async function playWith(driver: Driver | undefined, request: PlayRequest): Promise<PlayResult> {
  const { rig, scenario } = request
  const folder = recordingFolder(request.outDir, scenario.name)
  const { rigFile, scenarioFile } = request
  const recording = new RecordingWriter(folder, {
    rigText: resolvedRigText(request.rigText, watchSchemas),
    scenarioText: resolvedScenarioText(request.scenarioText),
    buses: rig.buses,
    provenance: provenanceNow({ rigFile, scenarioFile, arms: 'simulated' }),
  })
  try {
    const judgement = await runVirtual({ ...request, driver, recording })
    recording.close()
    writeReports(folder, { judgement, rig, scenario })
    return { verdict: judgement.verdict, folder }
  } finally {
    recording.close()
    // A fault of the scenario may have set it.
    wall.stepTo(0)
  }
}
