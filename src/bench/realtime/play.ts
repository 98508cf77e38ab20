/**
 * The parent's side of a real-time run: starts the bench process, writes down what it sends, judges the recording when it is
 * over. Whatever happens here, however slow it is, the loop goes on without it.
 */
import { resolvedRigText, resolvedScenarioText } from '../../files/resolved-text.js'
import { recordingFolder } from '../../record/folder.js'
import { type OverallStopThen, provenanceNow } from '../../record/provenance.js'
import { RecordingFiles } from '../../record/write.js'
import { writeReports } from '../../report/write.js'
import { stopMark } from '../../stop/mark.js'
import { judgeRecording } from '../../verdict/judge-recording.js'
import { watchSchemas } from '../../watch/settings.js'
import type { HoldKey } from '../hold.js'
import type { PlayRequest, PlayResult } from '../play.js'
import { guardianAccount } from './guardian-account.js'
import { BenchProcess } from './process.js'

/** Bytes of records that may wait to be written: minutes of two full buses. */
export const BACKLOG = 64e6

export interface RealtimeRequest extends PlayRequest {
  /** Socket of the stand-in that the arms are; left out: simulated here on mock buses, real elsewhere. */
  readonly standIn?: string | undefined
  /** The approach runs only while this key is held; left out: it runs. */
  readonly hold?: HoldKey | null
  /** Of each joint, the drive that was confirmed. */
  readonly drives?: readonly (string | null)[] | null
  /** Real arms: what people vouch for of their hard-wired stop. */
  readonly overallStop?: OverallStopThen | undefined
  /** Bytes of records that may wait to be written; beyond it they are dropped and counted. */
  readonly backlog?: number
  /** What `stopMark` gave before a person let the arms move; left out: now. */
  readonly stopMark?: string
}

/**
 * @throws DrystrokeError `file-access` when the recording cannot be written, `usage` when its buses are mixed; errors of the
 *   bench process as they are
 */
export async function playRealTime(request: RealtimeRequest): Promise<PlayResult> {
  const folder = recordingFolder(request.outDir, request.scenario.name)
  const texts = {
    rigText: resolvedRigText(request.rigText, watchSchemas),
    scenarioText: resolvedScenarioText(request.scenarioText),
  }
  const { rig, rigFile, scenarioFile, seed, backlog = BACKLOG, overallStop } = request
  const standIn = request.standIn ?? null
  const simulated = rig.buses.every((b) => b.address.kind === 'mock')
  const arms = simulated ? 'simulated' : standIn === null ? 'real' : 'stand-in'
  const mark = request.stopMark ?? stopMark(rig)
  const process = new BenchProcess({
    create: () =>
      RecordingFiles.create(folder, {
        ...texts,
        provenance: provenanceNow({ rigFile, scenarioFile, arms, ...(overallStop ? { overallStop } : {}) }),
      }),
    onProgress: request.onProgress,
    onSaid: request.onSaid,
  })
  try {
    const { hold = null, drives = null } = request
    process.order({
      kind: 'job',
      job: {
        ...texts,
        ...{ rigFile, scenarioFile, seed, standIn, backlog, drives, stopMark: mark },
        jog: false,
        hold: hold !== null,
      },
    })
    hold?.onPress(() => process.order({ kind: 'held' }))
    request.interrupt?.onAsk((stop) => process.order({ kind: 'stop', stop }))
    await process.over
    const guardian = process.leftTo
    if (guardian !== null) {
      request.onProgress?.(null, 'the guardian stops the arms')
      await guardianAccount(folder, rig, guardian)
    }
  } finally {
    request.interrupt?.onAsk(null)
    request.hold?.onPress(null)
    process.leave()
  }
  const judged = judgeRecording(folder)
  writeReports(folder, judged)
  return { verdict: judged.judgement.verdict, folder }
}
