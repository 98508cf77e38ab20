/** What the commands of scenarios ask of the arms, and how far the arms go when nobody stops them at once. */
import type { Rig } from '../files/rig.js'
import { torqueLimit } from '../motion/torque-limit.js'
import { showQuantity } from '../units.js'
import type { WatchSettings } from '../watch/settings.js'
import { atPhase, type Check, type Found, type Level, type Line, levelOfShare } from './line.js'
import type { RunOnPeaks, Wait } from './motion-look.js'
import { shakenLines } from './mount-lines.js'
import type { Peaks } from './peaks.js'
import type { ScriptLooks } from './script-looks.js'

type WatchedRig = Rig<WatchSettings>

/** @param cadence 1/s, of the fastest stroke that the joints allow; @param waits as the looks had them */
export function scenarioLines(
  rig: WatchedRig,
  looks: ScriptLooks,
  cadence: number,
  waits: readonly Wait[],
): Line[] {
  const names = looks.scenarios.map(({ name }) => name)
  return [
    ...motionLines(rig, looks),
    ...cadenceLines(looks, cadence),
    ...torqueLines(rig, looks),
    ...looks.motion.runsOn.flatMap((peaks, i) => runOnLines(rig, peaks, waits[i]!)),
    ...brakingLines(rig, looks),
    ...clearanceLines(rig, looks),
    ...shakenLines(rig, looks),
  ].map((line) => ({ ...line, scenarios: names }))
}

function motionLines(rig: WatchedRig, { motion }: ScriptLooks): Found[] {
  const line = (check: Check, peaks: Peaks, what: string): Found => {
    const { share, j, phase } = worstOf(rig, peaks)
    const says = `${showQuantity(share, 'share')} of its ${what} limit${atPhase(phase)}`
    return shareLine(rig, check, j, share, phase, says)
  }
  return [
    line('joint speed', motion.speed, 'speed'),
    line('acceleration', motion.acceleration, 'acceleration'),
  ]
}

function cadenceLines({ cadence }: ScriptLooks, most: number): Found[] {
  const { fastest } = cadence
  if (fastest === null) return []
  const perMinute = (rate: number): string => (60 * rate).toFixed(1)
  const { side, rate } = fastest
  const says = `${perMinute(rate)} strokes/min; the joints allow ${perMinute(most)}`
  const level: Level = rate > most ? 'warn' : 'pass'
  return [{ check: 'cadence', level, place: side, phase: null, value: rate, limit: most, unit: 'Hz', says }]
}

function torqueLines(rig: WatchedRig, { torque }: ScriptLooks): Found[] {
  const joints = torque.arms.flatMap((arm) => arm.joints)
  if (joints.length === 0) return []
  const { share, j, phase, beside } = worstOf(rig, torque.torque, joints)
  const told = showQuantity(torqueLimit(rig, rig.joints[j]!), 'N m')
  const says = `${showQuantity(beside, 'N m')} in air, of the ${told} that its drive may give${atPhase(phase)}`
  const lines = [shareLine(rig, 'torque', j, share, phase, says)]
  const rated = joints.filter((i) => rig.joints[i]!.rating !== null)
  if (rated.length === 0) return lines
  const heat = (i: number): number => torque.effective(i) / rig.joints[i]!.rating!.continuous
  const hot = rated.reduce((most, i) => (heat(i) > heat(most) ? i : most))
  const continuous = showQuantity(rig.joints[hot]!.rating!.continuous, 'N m')
  const warm = `${showQuantity(torque.effective(hot), 'N m')} root mean square in air, of the ${continuous} that its drive bears for ever`
  return [...lines, shareLine(rig, 'heat', hot, heat(hot), null, warm)]
}

/** The drives' own watchdogs, or the guardian: where the joint that comes nearest to an end of its range stands when it is still. */
function runOnLines(
  rig: WatchedRig,
  { who, share: peaks, way, blade }: RunOnPeaks,
  { seconds }: Wait,
): Found[] {
  const joints = rig.joints.map(({ index }) => index).filter((j) => !Number.isNaN(seconds[j]!))
  if (joints.length === 0) return []
  const endless = joints.find((j) => seconds[j] === Infinity)
  if (endless !== undefined) {
    const says = 'nobody knows how long it goes on: what would stop it has no bound on its bus'
    const { name } = rig.joints[endless]!
    return [
      { check: who, level: 'fail', place: name, phase: null, value: Infinity, limit: null, unit: 's', says },
    ]
  }
  const { share, j, phase } = worstOf(rig, peaks, joints)
  if (share === Number.NEGATIVE_INFINITY) return []
  const { limits, name } = rig.joints[j]!
  const left = ((1 - share) * (limits.upper - limits.lower)) / 2
  const stands = `${showQuantity(Math.abs(left), 'rad')} ${left < 0 ? 'beyond' : 'from'} the end of its range`
  const far = worstOf(rig, way, joints)
  const says =
    `${stands} when still, ${showQuantity(seconds[j]!, 's')} and braking after${atPhase(phase)}; farthest on ` +
    `${showQuantity(far.share, 'rad')}, ${rig.joints[far.j]!.name}, and a blade ${showQuantity(Math.max(...blade), 'm')}`
  const level = levelOfShare(share, rig.watch.limits.warning)
  return [{ check: who, level, place: name, phase, value: left, limit: 0, unit: 'rad', says }]
}

/** A category 1 stop takes the torque away when its time-out is over, still or not. */
function brakingLines(rig: WatchedRig, { motion, torque }: ScriptLooks): Found[] {
  const { quickStop } = rig.link
  const { timeout, category } = rig.stop
  const time = (j: number): number => (motion.speed.value[j]! * rig.joints[j]!.limits.speed) / quickStop
  const slow = rig.joints.reduce((most, { index }) => (time(index) > time(most) ? index : most), 0)
  const seconds = time(slow)
  const lines: Found[] = []
  if (category === 1) {
    const says = `${showQuantity(seconds, 's')} from its greatest speed; after ${showQuantity(timeout, 's')} the torque is taken away`
    const level = levelOfShare(seconds / timeout, rig.watch.limits.warning)
    const { name } = rig.joints[slow]!
    lines.push({
      check: 'braking time',
      level,
      place: name,
      phase: null,
      value: seconds,
      limit: timeout,
      unit: 's',
      says,
    })
  }
  const joints = torque.arms.flatMap((arm) => arm.joints)
  if (joints.length === 0) return lines
  const { share, j, phase, beside } = worstOf(rig, torque.braking, joints)
  const may = showQuantity(torqueLimit(rig, rig.joints[j]!), 'N m')
  const says = `${showQuantity(beside, 'N m')} in air to brake as link.quick-stop says, of the ${may} that its drive may give${atPhase(phase)}`
  // More than it may give is no breach: it brakes more slowly, and the arm runs on farther than is said here.
  const level: Level = share > 1 ? 'warn' : 'pass'
  return [...lines, { ...shareLine(rig, 'braking torque', j, share, phase, says), level }]
}

function clearanceLines({ clearance }: WatchedRig, { least }: ScriptLooks): Found[] {
  if (clearance === null || least === null) return []
  const { distance, between, phases } = least
  const level: Level = distance < clearance.least ? 'fail' : distance < clearance.warn ? 'warn' : 'pass'
  const phase = phases[0] ?? null
  const says = `${distance.toFixed(3)} m, at least ${showQuantity(clearance.least, 'm')}${atPhase(phase)}`
  const place = between.join(' and ')
  return [
    { check: 'clearance', level, place, phase, value: distance, limit: clearance.least, unit: 'm', says },
  ]
}

function worstOf(
  rig: Rig,
  peaks: Peaks,
  joints: readonly number[] = rig.joints.map(({ index }) => index),
): { share: number; j: number; phase: number; beside: number } {
  const j = peaks.worst(joints)
  return { share: peaks.value[j]!, j, phase: peaks.phase[j]!, beside: peaks.beside[j]! }
}

function shareLine(
  rig: WatchedRig,
  check: Check,
  j: number,
  share: number,
  phase: number | null,
  says: string,
): Found {
  const level = levelOfShare(share, rig.watch.limits.warning)
  return { check, level, place: rig.joints[j]!.name, phase, value: share, limit: 1, unit: 'share', says }
}
