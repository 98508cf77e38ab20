/** The separation aid of a run's rig, for terminal and page: from what the recording holds alone, so that a judge gives the same. */
import type { Rig } from '../files/rig.js'
import type { Provenance } from '../record/provenance.js'
import { showQuantity } from '../units.js'
import {
  EDITION,
  type HardWiredStopTest,
  ORIGIN,
  OverallStop,
  SEPARATION_CAUTION,
  separation,
  showMillimetres,
} from '../verdict/separation.js'
import { wrap } from './wrap.js'

/** m, detection capabilities that are shown: finger and hand, and up to what the formula holds for; our own choice. */
const DETECTIONS = [0.014, 0.02, 0.03, 0.04]

export type SeparationAid =
  | {
      readonly overall: OverallStop
      readonly distances: readonly { readonly detection: number; readonly shown: string }[]
    }
  /** What is lacking, in one sentence. */
  | { readonly overall: null; readonly lacks: string }

/** @param provenance of the recording; null: it has none */
export function separationAid(rig: Rig, provenance: Provenance | null): SeparationAid {
  const overall = OverallStop.of(rig.stop.overall, testIn(provenance))
  if (overall === null) return { overall, lacks: `No separation distance: ${lackIn(provenance)}.` }
  return {
    overall,
    distances: DETECTIONS.map((detection) => ({
      detection,
      shown: showMillimetres(separation(overall, detection).distance),
    })),
  }
}

/** Only real arms have a hard-wired stop, and a file may hold anything. */
function testIn(provenance: Provenance | null): HardWiredStopTest | null {
  if (provenance?.arms !== 'real' || typeof provenance.overallStop !== 'object') return null
  const { time, says } = provenance.overallStop ?? {}
  if (typeof time !== 'number' || !(time > 0 && time < Number.POSITIVE_INFINITY) || typeof says !== 'string')
    return null
  return { stop: 'hard-wired', arms: 'real', overall: time, confirmed: says }
}

function lackIn(provenance: Provenance | null): string {
  if (provenance?.arms === 'real' && provenance.overallStop?.time === null) return provenance.overallStop.says
  return 'the rig states no overall time of its hard-wired stop'
}

/** Ends with a newline; one sentence when there is none. */
export function separationBlock(aid: SeparationAid, width: number): string {
  if (aid.overall === null) return `${wrap(aid.lacks, width, 0).join('\n')}\n`
  const { overall, distances } = aid
  const row = (name: string, cells: readonly string[]): string =>
    `  ${name.padEnd(10)}${cells.map((cell) => cell.padStart(9)).join('')}`
  const source = `T = ${showQuantity(overall.time, 's', 4)}, hard-wired stop, ${ORIGIN[overall.origin]}: ${overall.source}`
  const lines = [
    `Separation distance after ${EDITION}, by what the protective device detects`,
    row(
      'detection',
      distances.map(({ detection }) => showMillimetres(detection)),
    ),
    row(
      'distance',
      distances.map(({ shown }) => shown),
    ),
    ...wrap(source.replace(/\s+/g, ' ').replace(/\p{Cc}/gu, '\ufffd'), width, 2, 4),
    ...wrap(SEPARATION_CAUTION, width, 2),
  ]
  return `${lines.join('\n')}\n`
}
