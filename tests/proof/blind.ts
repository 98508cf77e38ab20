/**
 * Each watch that has thresholds, with these so wide that it finds nothing any more: in the rig's section `watch`, as far as its schema
 * lets them go, or where else in a rig they stand.
 */
import type { z } from 'zod'
import type { Severity } from '../../src/files/event.js'
import { type WatchSettings, watchSchemas } from '../../src/watch/settings.js'
import type { ProofRig } from './rigs.js'

type Widening = (rig: ProofRig) => ProofRig

/** @param settings as they stand in a rig file */
function wide<K extends keyof WatchSettings>(
  watch: K,
  settings: z.input<(typeof watchSchemas)[K]>,
): readonly [K, Widening] {
  const parsed = watchSchemas[watch].parse(settings)
  return [watch, (rig) => ({ ...rig, watch: { ...rig.watch, [watch]: parsed } })]
}

export const BLIND: ReadonlyMap<keyof WatchSettings, Widening> = new Map<keyof WatchSettings, Widening>([
  [
    'limits',
    (rig) => ({
      ...rig,
      joints: rig.joints.map((j) => ({ ...j, limits: { ...j.limits, speed: 1e6, acceleration: 1e6 } })),
    }),
  ],
  wide('tracking', { window: '90 deg', timeout: '10 s', lag: { most: '1 s' } }),
  wide('feedback', { leap: 100, echo: 1000, motion: '90 deg', scale: '100 %', offset: '90 deg' }),
  wide('load', { residual: '1000 %', warning: '100 %' }),
  wide('silence', { periods: 100, heartbeats: 100 }),
  wide('sense', { witness: '90 deg', travel: '1 m', speed: '100 %', astray: '1000 %' }),
  wide('stroke', {
    ...{ length: '100 %', cadence: '1000 %', ratio: '1000 %' },
    ...{ depth: '100 %', clearance: '0 %', angle: '90 deg' },
  }),
  wide('sides', { phase: '50 %', drift: '100 %', travel: '1 m' }),
  [
    'clearance',
    // What touches is told at any distance: nothing is there to be touched but the arms.
    (rig) => ({
      ...rig,
      clearance: rig.clearance && { ...rig.clearance, least: 1e-4, warn: 1e-4, keepOut: [] },
    }),
  ],
  [
    'stopping',
    (rig) => ({
      ...rig,
      stop: { ...rig.stop, sag: Math.PI },
      watch: { ...rig.watch, stopping: { ...rig.watch.stopping, motion: Math.PI, ramps: 100, margin: 10 } },
    }),
  ],
  wide('bus', { lost: '100 %', doubled: '100 %', late: '100 %' }),
  ['timing', (rig) => ({ ...rig, realtime: { ...rig.realtime, late: 60, mostLate: 1e6 } })],
  wide('driver', { react: '10 s' }),
  wide('setpoints', { rise: '1 us', ramp: 100 }),
  wide('vibration', { warning: '1000 %', limit: '1000 %', ratio: 1000, line: '1000 %' }),
  wide('reversal', { warning: '90 deg', failure: '90 deg' }),
  wide('steps', { overshoot: '100 %', settling: '10 s' }),
  wide('order', { answers: 1000, jump: 1000, back: '1 s' }),
  wide('smoothness', { joint: { arc: -100, jerk: -100 }, blade: { arc: -100, jerk: -100 } }),
  wide('health', { temperature: { warning: '300 degC', limit: '300 degC' } }),
  wide('owner', { sync: 1000, obey: '2 s' }),
  ['proof', (rig) => ({ ...rig, stop: { ...rig.stop, sag: Math.PI } })],
])

/** What some tell whatever their thresholds are: a frame that was lost, a tick that was missed. */
export const TOLD_ALWAYS: Readonly<Partial<Record<keyof WatchSettings, Severity>>> = {
  bus: 'warning',
  timing: 'warning',
}
