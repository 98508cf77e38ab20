/** What the arms can do, whatever is commanded: the whole stroke, and how near it comes to where they no longer can. */
import { USABLE } from '../driver/fastest.js'
import type { JointMargin, ReachReport } from '../driver/reach.js'
import type { Rig } from '../files/rig.js'
import { showQuantity } from '../units.js'
import type { WatchSettings } from '../watch/settings.js'
import { atPhase, type Level, type Line } from './line.js'

/** How many times its least value a singularity measure should be: joints go so much faster than it allows for (common practice, no source). */
const CLEAR = 2

export function armLines(
  rig: Rig<WatchSettings>,
  reach: readonly ReachReport[],
  greatest: number | null,
): Line[] {
  return [
    ...reach.map(reachLine),
    ...reach.flatMap((report) => [...rangeLines(rig, report), ...singularityLines(report)]),
    ...(greatest === null ? [] : [sideSpeedLine(rig, greatest)]),
  ]
}

function reachLine({ arm, reachable, failures }: ReachReport): Line {
  const says = reachable
    ? 'the whole stroke, ahead and astern, and the park place from all along it'
    : `${failures.length} ranges of the stroke are out of reach`
  return {
    check: 'reach',
    level: reachable ? 'pass' : 'fail',
    place: arm,
    scenarios: null,
    phase: failures[0]?.phase ?? null,
    value: failures.length,
    limit: 0,
    unit: 'count',
    says,
  }
}

/** rad from the end of a range at which the limits watch begins to warn */
function inset(rig: Rig<WatchSettings>, joint: string): number {
  const { upper, lower } = rig.joints.find(({ name }) => name === joint)!.limits
  return ((1 - rig.watch.limits.warning) * (upper - lower)) / 2
}

/** The joint that is the nearest to an end, measured by where the watch begins to warn. */
function rangeLines(rig: Rig<WatchSettings>, { margins }: ReachReport): Line[] {
  if (margins.length === 0) return []
  const share = (m: JointMargin): number => m.value / inset(rig, m.joint)
  const { joint, value, phase } = margins.reduce((least, m) => (share(m) < share(least) ? m : least))
  const warn = inset(rig, joint)
  const level: Level = value < 0 ? 'fail' : value < warn ? 'warn' : 'pass'
  const says = `${showQuantity(value, 'rad')} to the end of its range, a warning below ${showQuantity(warn, 'rad')}${atPhase(phase)}`
  return [
    { check: 'joint range', level, place: joint, scenarios: null, phase, value, limit: 0, unit: 'rad', says },
  ]
}

/** The rig's limit is on a measure that the smallest singular value never falls below: see motion/ik.ts. */
function singularityLines({ arm, singularity, smallest }: ReachReport): Line[] {
  if (singularity === null || smallest === null) return []
  const { value: measure, least, phase } = singularity
  const level: Level = measure < least ? 'fail' : measure < CLEAR * least ? 'warn' : 'pass'
  const says =
    `measure ${measure.toPrecision(3)} of at least ${least}${atPhase(phase)}; smallest singular value ` +
    `${smallest.value.toPrecision(3)}, ${smallest.share.toPrecision(2)} of the greatest`
  return [
    {
      check: 'singularity',
      level,
      place: arm,
      scenarios: null,
      phase,
      value: measure,
      limit: least,
      unit: 'none',
      says,
    },
  ]
}

/** `stroke.fastest`, of which scenarios state shares, must be a speed that the joints allow. */
function sideSpeedLine({ stroke }: Rig, greatest: number): Line {
  const { fastest } = stroke
  const says =
    fastest === null
      ? `${showQuantity(greatest, 'm/s')} with which no joint needs more than ${Math.round(100 * USABLE)} % of its limits; stroke.fastest is not stated`
      : `stroke.fastest is ${showQuantity(fastest, 'm/s')}; up to ${showQuantity(greatest, 'm/s')} no joint needs more than ${Math.round(100 * USABLE)} % of its limits`
  return {
    check: 'side speed',
    level: fastest !== null && fastest > greatest ? 'fail' : 'pass',
    place: '',
    scenarios: null,
    phase: null,
    value: fastest ?? greatest,
    limit: greatest,
    unit: 'm/s',
    says,
  }
}
