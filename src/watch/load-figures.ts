/** The figures of the load watch. */
import type { Figure } from '../files/event.js'
import type { Rig } from '../files/rig.js'
import { delay, keepsUpTo } from '../motion/differentiator.js'
import { nearestPhase } from '../motion/nearest-phase.js'
import type { ShownUnit } from '../units.js'
import type { LoadPrediction } from './load-prediction.js'
import type { LoadRecord } from './load-record.js'
import type { LoadedArm, RatedJoint } from './loaded-arm.js'
import type { WatchSettings } from './settings.js'
import type { WatchContext } from './watch.js'

/** Share of an acceleration that the filter is said to keep up to a frequency. */
const KEPT = 0.9
/** m: a blade that is farther from its stroke's path is somewhere else. */
const ON_PATH = 0.05

/** Phase of the stroke at which a joint's torque had its peak; null: the arm was not on its stroke. */
export function phaseOf(rig: Rig, arm: number, record: LoadRecord): number | null {
  const { phase, off } = nearestPhase(rig, rig.arms[arm]!, record.blade)
  return off <= ON_PATH ? phase : null
}

/**
 * Figures of the rig, then arm by arm: the arm's own, and those of its joints from base to tip. Torques at the joint in N m, each
 * peak beside the peak rating and each RMS beside the continuous one; warmth and payload as shares of what is allowed.
 * @param arms none where the rig does not state what the watch needs @param prediction null: nothing is said of afloat
 */
export function loadFigures(
  { rig, settings }: WatchContext<WatchSettings['load']>,
  arms: readonly LoadedArm[],
  prediction: LoadPrediction | null,
): Figure[] {
  if (arms.length === 0) return []
  const { window, trip } = settings
  const { period } = rig.control
  const rows: Figure[] = [
    row('', 'delay of torques', delay(window, period), 's', null),
    row('', 'accelerations kept to 90 % up to', keepsUpTo(window, period, KEPT), 'Hz', null),
  ]
  if (trip !== undefined) rows.push(row('', 'length of the trip', trip, 's', null))
  if (prediction) rows.push(row('', 'surge afloat, predicted, fastest', prediction.fastest, 'm/s', null))
  arms.forEach((arm, a) => {
    rows.push(...ofArm(rig, arm, a, prediction !== null))
  })
  return rows
}

function ofArm(rig: Rig, arm: LoadedArm, a: number, predicted: boolean): Figure[] {
  const { name, payload } = rig.arms[a]!
  const noise = arm.noise()
  const { dry, afloat } = arm.carried
  return [
    row(name, 'reach of the blade, farthest', arm.farthest, 'm', null),
    row(name, 'payload used, dry', dry.most / payload, 'share', 1),
    row(name, 'payload used, dry: at reach', dry.reach, 'm', null),
    ...(predicted
      ? [
          row(name, 'payload used, afloat', afloat.most / payload, 'share', 1),
          row(name, 'payload used, afloat: at reach', afloat.reach, 'm', null),
        ]
      : []),
    ...arm.joints.flatMap((joint, i) => [
      ...ofRecord(rig, joint, 'dry', arm.dry[i]!),
      row(joint.name, 'torque, noise of the filter', noise[i]!, 'N m', null),
      ...ofRecord(rig, joint, 'told by the drive', arm.told[i]!),
      ...ofTrust(joint, arm, i),
      ...ofRecord(rig, joint, 'afloat', arm.afloat[i]!),
    ]),
  ]
}

type As = 'dry' | 'told by the drive' | 'afloat'

function ofRecord(rig: Rig, { name, arm, rating }: RatedJoint, as: As, record: LoadRecord): Figure[] {
  const f = record.close()
  if (f === null) return []
  const rows = [row(name, `torque, ${as}, peak`, f.peak, 'N m', rating.peak)]
  // The run is dry, and where the others have their peaks can be seen in it.
  const phase = as === 'afloat' ? phaseOf(rig, arm, record) : null
  if (phase !== null) rows.push(row(name, `torque, ${as}, peak at stroke phase`, phase, 'none', null))
  if (f.stroke !== null)
    rows.push(row(name, `torque, ${as}, RMS of the heaviest stroke`, f.stroke, 'N m', rating.continuous))
  if (f.warm !== null) rows.push(row(name, `warmth at the end of the run, ${as}`, f.warm, 'share', 1))
  if (f.trip !== null) rows.push(row(name, `warmth at the end of the trip, ${as}`, f.trip, 'share', 1))
  return rows
}

function ofTrust({ name }: RatedJoint, arm: LoadedArm, i: number): Figure[] {
  const trust = arm.trust[i]!
  if (!trust.seen) return []
  return [
    row(name, 'torque, told over model', trust.ratio, 'none', null),
    row(name, 'torque, off the model, RMS', trust.residual, 'N m', null),
    row(name, 'torque, off the model, greatest', trust.worst, 'N m', null),
  ]
}

function row(place: string, name: string, value: number, unit: ShownUnit, limit: number | null): Figure {
  return { place, name, value, unit, limit }
}
