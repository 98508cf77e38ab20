/** What the page is made from, and what several of its parts work out of it. */
import { type Nanos, nanos, seconds } from '../../clock.js'
import type { Stage } from '../../files/event.js'
import { faultPlace } from '../../files/faults/catalogue.js'
import type { Joint, Rig } from '../../files/rig.js'
import type { Scenario } from '../../files/scenario.js'
import type { StatedSetting } from '../../files/stated-settings.js'
import type { Provenance } from '../../record/provenance.js'
import type { Trace, Verdict } from '../../verdict/verdict.js'
import { isExpected, placeName, scenarioTime, valueAndLimit } from '../wording.js'
import type { JudgedError } from './joint-plot.js'
import type { Idle, Mark } from './panel.js'

export interface ReportInput {
  readonly verdict: Verdict
  readonly trace: Trace
  readonly rig: Rig
  readonly scenario: Scenario
  /** When each stage began, in order. */
  readonly stages: readonly { readonly stage: Stage; readonly t: Nanos }[]
  readonly provenance: Provenance | null
  /** Of the watches. */
  readonly settings: readonly StatedSetting[]
}

/** Stages in which the scenario did not play, shaded in the pictures. */
export function idleSpans(run: ReportInput): Idle[] {
  const { stages, trace } = run
  const end = trace.from + trace.bin * trace.bins
  return stages
    .map((s, i) => ({ stage: s.stage, from: s.t, to: stages[i + 1]?.t ?? end }))
    .filter((s) => s.stage !== 'play')
    .map((s) => ({ from: s.from, to: s.to, title: `${s.stage}, ${seconds(s.to - s.from).toFixed(2)} s` }))
}

function stopMark(run: ReportInput): Mark[] {
  const { stop, zero } = run.verdict
  if (stop === null) return []
  return [
    {
      t: stop.t,
      look: 'stop',
      label: 'stop',
      title: `stop at ${scenarioTime(stop.t, zero)} by ${stop.source}`,
    },
  ]
}

/** What happened to one joint: its faults, the findings that concern it (numbered as in the table), the stop. */
export function jointMarks(run: ReportInput, joint: Joint): Mark[] {
  const { verdict, scenario, rig } = run
  const places = new Set([joint.name, rig.arms[joint.arm]!.name, rig.buses[joint.wire.bus]!.name, ''])
  const findings = verdict.findings.flatMap((f, i): Mark[] =>
    places.has(f.place)
      ? [
          {
            t: f.t,
            look: f.severity === 'failure' && !isExpected(f, verdict) ? 'finding' : 'notice',
            label: `#${i + 1}`,
            title: `finding ${i + 1}: ${placeName(f.place)}, ${f.quantity} ${valueAndLimit(f)}`,
          },
        ]
      : [],
  )
  const { zero } = verdict
  const faults = scenario.faults.flatMap((f): Mark[] =>
    places.has(faultPlace(f, rig)) && zero !== null
      ? [
          {
            t: Math.max(0, zero + nanos(f.at)),
            look: 'fault',
            label: f.fault,
            title: `fault: ${f.fault} from ${Number.isFinite(f.at) ? `${f.at} s` : 'the start'}`,
          },
        ]
      : [],
  )
  return [...faults, ...findings, ...stopMark(run)]
}

/** The greatest following error that has a limit, from the figures of the tracking watch; null when there is none. */
export function judgedError(run: ReportInput, joint: Joint): JudgedError | null {
  const figures = run.verdict.watches.find((w) => w.watch === 'tracking')?.figures ?? []
  const judged = figures.flatMap(({ place, unit, value, limit }) =>
    place === joint.name && unit === 'rad' && limit !== null ? [{ peak: value, limit }] : [],
  )
  return judged.reduce<JudgedError | null>((most, j) => (most && most.peak >= j.peak ? most : j), null)
}
