/** The stops of a plan, played one after the other on simulated arms in virtual time, and summed up by speed. */
import { loadScenario } from '../files/load.js'
import type { Rig } from '../files/rig.js'
import type { Scenario } from '../files/scenario.js'
import {
  figuresOf,
  MEASURES,
  type StopFigures,
  type StopMotion,
  type Summary,
  summarise,
} from '../verdict/stop-table.js'
import type { Verdict } from '../verdict/verdict.js'
import type { WatchSettings } from '../watch/settings.js'
import type { Interrupt } from './interrupt.js'
import { playScenario } from './play.js'
import { type PlannedStop, planStops, SHARES } from './stop-plan.js'
import { runVirtual } from './virtual.js'
import { withDriver } from './with-driver.js'

export interface StudyRequest {
  readonly rig: Rig<WatchSettings>
  readonly rigText: string
  readonly rigFile: string
  /** m/s, 100 % of speed */
  readonly fastest: number
  readonly motions: readonly StopMotion[]
  /** Places of the stroke, of each motion at each speed. */
  readonly phases: number
  readonly seed: number
  /** Folder for recordings; null: none are kept. */
  readonly outDir: string | null
  readonly interrupt: Interrupt
  readonly onRun: (scenario: Scenario, nth: number, of: number) => void
  readonly onProgress: (scenarioTime: number | null, stage: string) => void
}

/** The stops at one speed, of all motions. */
export interface SpeedStudy {
  readonly share: number
  /** m/s */
  readonly speed: number
  readonly stops: readonly StopFigures[]
  /** Sentences of verdicts that were no pass. */
  readonly notPassed: readonly { readonly scenario: string; readonly sentence: string }[]
  readonly summaries: readonly Summary[]
}

/** @returns null when it was interrupted: part of a table would look like a whole one */
export async function studyStops(request: StudyRequest): Promise<SpeedStudy[] | null> {
  const { rig, fastest, phases } = request
  // All of it first: a motion that this rig cannot do is refused before anything is played.
  const plan = request.motions.flatMap((motion) => planStops(rig, motion, fastest, phases))
  const played: { planned: PlannedStop; verdict: Verdict }[] = []
  for (const [i, planned] of plan.entries()) {
    const file = `stop ${i + 1} of the plan`
    const scenario = loadScenario(planned.text, file, request.rig)
    request.onRun(scenario, i + 1, plan.length)
    // Another seed each: noise and jitter are part of the spread.
    const run = { ...request, scenario, seed: request.seed + i }
    const verdict =
      request.outDir === null
        ? (await withDriver(run, (driver) => runVirtual({ ...run, driver, recording: NOWHERE }))).verdict
        : (
            await playScenario({
              ...run,
              outDir: request.outDir,
              scenarioText: planned.text,
              scenarioFile: file,
            })
          ).verdict
    if (request.interrupt.stop) return null
    played.push({ planned, verdict })
  }
  return SHARES.map((share) => {
    const mine = played.filter((p) => p.planned.share === share)
    const stops = mine.map(({ planned, verdict }) => figuresOf({ ...planned, verdict }))
    return {
      share,
      speed: mine[0]!.planned.speed,
      stops,
      notPassed: mine.flatMap(({ verdict }) =>
        verdict.outcome === 'pass' ? [] : [{ scenario: verdict.scenario, sentence: verdict.sentence }],
      ),
      summaries: MEASURES.flatMap((measure) => summarise(measure, stops) ?? []),
    }
  })
}

const NOWHERE = { frame: () => {}, event: () => {}, flush: () => {} }
