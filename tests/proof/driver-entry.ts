/** What the catalogues of broken drivers say of each of them. */
import { Approach } from '../../src/bench/approach.js'
import type { Driver } from '../../src/driver/contract.js'
import { strokesOf } from '../../src/driver/strokes.js'
import type { Rig } from '../../src/files/rig.js'
import { strokeRate } from '../../src/motion/cadence.js'
import type { DriverBeside } from '../setup/driver-beside.js'
import type { ProofRig } from './rigs.js'
import type { ScriptName } from './scripts.js'

export const LEVELS = ['small', 'nominal', 'large'] as const
export type Level = (typeof LEVELS)[number]

export type Severities = readonly [small: number, nominal: number, large: number]

/** What is said of any broken driver, whoever owns the buses. */
export interface BrokenDriver {
  readonly name: string
  /** What it does wrong, in one sentence. */
  readonly what: string
  /** What a severity counts. */
  readonly unit: string
  /** In the rig's units: formulas, not measurements. */
  severities(rig: ProofRig): Severities
  /** The commands under which it shows. */
  readonly script: ScriptName
  /** Name of the watch that should catch it, or of several as in `a or b`; `gate` and `driver` report too. */
  readonly expected: string
  /** s from the first setpoint that differs from those of the sound driver, or from whatever else is wrong, by when it should be caught. */
  detectWithin(rig: ProofRig, severity: number): number
  /** Why by then. */
  readonly why: string
}

export interface DriverEntry extends BrokenDriver {
  /** The rig that it is tried on, made of the demo rig; left out: as it is. */
  rig?(rig: Rig, severity: number): Pick<Rig, 'motion' | 'stroke'>
  driver(rig: Rig, severity: number, seed: number): Driver
}

/** Where a driver that owns the buses is in its run, at one of its beats. */
export interface Beat {
  /** s of the scenario, as long as it is told to follow its commands; null: it is not */
  readonly played: number | null
  /** s since it was told to stop; null: it was not */
  readonly stopped: number | null
}

/** A driver that owns the buses: it does with them what it should not. */
export interface OwnerEntry extends BrokenDriver {
  /** It is no process of the run's own, and cannot be ended. */
  readonly elsewhere?: true
  /** @returns called before each of its beats; true: something is wrong */
  wrong(rig: Rig, severity: number): (driver: DriverBeside, beat: Beat) => boolean
}

/** m/s: the greatest side speed that scripts ask for. */
export function fastest(rig: Rig): number {
  return rig.stroke.fastest ?? 0.5
}

/** Least share of the greatest side speed that the scripts other than `slow` ask of the faster side. */
export const LEAST_SHARE = 0.6

/** s that one stroke takes, at the slowest speed that a script asks for unless it is said. @param v m/s */
export function strokeTime(rig: Rig, v: number = LEAST_SHARE * fastest(rig)): number {
  const { shape, side } = strokesOf(rig)
  return 1 / strokeRate(v, side.cadence, (phase) => shape.recovery(phase))
}

/** s in which a side comes to its greatest speed, or to rest from it, as the rig's driver is asked to. */
export function rampTime(rig: Rig): number {
  const { acceleration, jerk } = rig.driver
  return fastest(rig) / acceleration + acceleration / jerk
}

/** rad by which a setpoint leaves a steady course with the joint's whole acceleration limit, in one period. */
export function leastLeap(rig: Rig, joint: number): number {
  return rig.joints[joint]!.limits.acceleration * rig.control.period ** 2
}

/** s in which the simulated arms are led from where they stand at power-on to a park pose (rad, rig order). */
export function approachTime(rig: Rig, park: Float64Array): number {
  const start = Float64Array.from(rig.simulation.joints, (joint) => joint.start)
  const approach = new Approach(rig, [start, ...rig.motion.via, park])
  approach.plan(Number.POSITIVE_INFINITY)
  return approach.duration
}
