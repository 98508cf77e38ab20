/** One thing that a preflight looks at, and what came of it. */
import type { ShownUnit } from '../units.js'

export type Level = 'pass' | 'warn' | 'fail'

export type Check =
  | 'bus load'
  | 'response time'
  | 'processor'
  | 'reach'
  | 'joint range'
  | 'singularity'
  | 'side speed'
  | 'joint speed'
  | 'acceleration'
  | 'cadence'
  | 'torque'
  | 'heat'
  | 'watchdog'
  | 'guardian'
  | 'braking time'
  | 'braking torque'
  | 'clearance'
  | 'mount stiffness'
  | 'mount frequency'
  | 'vibration line'
  | 'stroke harmonic'
  | 'deflection'
  | 'heel'

export interface Line {
  readonly check: Check
  readonly level: Level
  /** Bus, arm, joint, or two parts of arms; empty: the rig. */
  readonly place: string
  /** Whose commands lead there; null: it is so whatever is commanded. */
  readonly scenarios: readonly string[] | null
  /** Of the stroke; null: it has none */
  readonly phase: number | null
  /** SI */
  readonly value: number
  /** What fails beyond it; null: nothing to hold it against */
  readonly limit: number | null
  readonly unit: ShownUnit
  /** The figure in words, without place and scenario. */
  readonly says: string
}

/** A line that commands lead to, before it is said whose. */
export type Found = Omit<Line, 'scenarios'>

const LEVELS: readonly Level[] = ['pass', 'warn', 'fail']

export function worstLevel(lines: readonly Line[]): Level {
  return LEVELS[Math.max(0, ...lines.map(({ level }) => LEVELS.indexOf(level)))]!
}

/** A share of a limit, which is beyond it above 1. @param warning share from which on it is near */
export function levelOfShare(share: number, warning: number): Level {
  // What has no bound is no pass.
  if (!(share <= 1)) return 'fail'
  return share > warning ? 'warn' : 'pass'
}

/** `phase 0.750`, or nothing */
export function atPhase(phase: number | null): string {
  return phase === null ? '' : `, phase ${phase.toFixed(3)}`
}
