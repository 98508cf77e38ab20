/** What the load watch finds when a run is over. */
import type { Finding } from '../files/event.js'
import { showQuantity } from '../units.js'
import { phaseOf } from './load-figures.js'
import type { LoadFigures, LoadRecord } from './load-record.js'
import type { LoadedArm, RatedJoint } from './loaded-arm.js'
import type { WatchSettings } from './settings.js'
import type { WatchContext } from './watch.js'

type Context = WatchContext<WatchSettings['load']>
type Words = Pick<Finding, 'severity' | 'quantity' | 'value' | 'limit' | 'unit' | 'says' | 'why' | 'look'>

/** Whose torques they are. */
const AS = {
  dry: { quantity: 'torque', what: 'The torque of the motion, worked out from the masses,' },
  told: { quantity: 'torque told by the drive', what: 'The torque that the drive told' },
  afloat: {
    quantity: 'torque afloat',
    what: 'The torque that the same motion takes afloat, with water on the blade,',
  },
} as const
type As = keyof typeof AS

const PEAK_WHY =
  'A drive that is asked for more than it can give lets the blade fall behind, trips, or wears out its gear.'
const WARM_WHY =
  'A motor that takes more than its continuous torque for long overheats, and its drive switches off.'
const LOOK = {
  dry: 'Look at the accelerations of the strokes, then at masses and ratings in the rig: slower strokes, a lighter paddle, a stronger drive.',
  told: 'Look for friction, a bent shaft or a brake that drags, then at masses and ratings in the rig.',
  afloat:
    'Look at how fast and how deep the blade goes, at sudden changes of the command, and at the area of the blade.',
} as const

/**
 * Peaks and warmth of each joint against its rating, for torques dry, told and afloat; how far the drives were off the model; the payload.
 * A peak afloat that comes nearer to its rating than the model was off the drive is a warning.
 */
export function judgeArm(c: Context, arm: LoadedArm): void {
  arm.joints.forEach((joint, i) => {
    const dry = arm.dry[i]!.close()
    const trust = arm.trust[i]!
    judge(c, joint, 'dry', arm.dry[i]!, true, 0)
    judge(c, joint, 'told', arm.told[i]!, true, 0)
    judge(c, joint, 'afloat', arm.afloat[i]!, dry !== null && dry.peak <= joint.rating.peak, trust.worst)
    if (dry !== null && trust.seen) doubtModel(c, joint, trust.residual, dry.peakAt)
  })
  overPayload(c, arm)
}

/**
 * @param dryPass the dry peak is within its rating
 * @param off N m by which the model may be off its peak
 */
function judge(
  c: Context,
  joint: RatedJoint,
  as: As,
  record: LoadRecord,
  dryPass: boolean,
  off: number,
): void {
  const f = record.close()
  if (f === null) return
  const { name, rating } = joint
  const { warning } = c.settings
  const tell = (t: number, words: Words): void => c.report({ ...words, place: name, t, stop: null })
  const { quantity, what } = AS[as]
  const beyond = f.peak > rating.peak
  if (beyond || f.peak > warning * rating.peak || f.peak + off > rating.peak) {
    const margin = showQuantity(rating.peak - f.peak, 'N m')
    const phase = phaseOf(c.rig, joint.arm, record)
    const where = phase === null ? 'off the stroke' : `at stroke phase ${showQuantity(phase, 'none')}`
    const overload = as === 'afloat' && dryPass ? 'Dry pass, afloat overload: ' : ''
    const said = beyond
      ? `${overload}${overload === '' ? what : lower(what)} goes beyond the peak rating ${where}, margin ${margin}.`
      : f.peak > warning * rating.peak
        ? `${what} comes beyond ${showQuantity(warning, 'share')} of the peak rating ${where}, margin ${margin}.`
        : `${what} comes nearer to the peak rating ${where}, margin ${margin}, than the model was off the drive.`
    tell(f.peakAt, {
      ...{
        severity: beyond ? 'failure' : 'warning',
        quantity,
        value: f.peak,
        limit: rating.peak,
        unit: 'N m',
      },
      ...{ says: said, why: PEAK_WHY, look: LOOK[as] },
    })
  }
  if (f.stroke !== null && f.stroke > rating.continuous)
    tell(f.strokeAt, {
      ...{ severity: 'warning', quantity: `${quantity}, RMS of a stroke`, value: f.stroke },
      ...{ limit: rating.continuous, unit: 'N m', why: WARM_WHY, look: LOOK[as] },
      says: `${what} is more over a whole stroke than the drive bears for long.`,
    })
  const warmth = Math.max(f.warm ?? 0, f.trip ?? 0)
  if (warmth > 1)
    tell(f.strokeAt, {
      ...{ severity: 'failure', quantity: `warmth by ${quantity}`, value: warmth, limit: 1, unit: 'share' },
      ...{ says: warms(f, rating.warmUp!), why: WARM_WHY, look: LOOK[as] },
    })
}

/** rise(t) = steady (1 - exp(-t/T)) = 1 */
function warms({ warm, steady }: LoadFigures, warmUp: number): string {
  if (warm !== null && warm > 1) return 'The motor is warmer than allowed at the end of the run.'
  const after = -warmUp * Math.log1p(-1 / steady)
  return `Strokes like these make the motor warmer than allowed after ${showQuantity(after / 60, 'none')} min, before the trip ends.`
}

function doubtModel(
  { settings, report }: Context,
  { name, rating }: RatedJoint,
  residual: number,
  t: number,
): void {
  const limit = settings.residual * rating.continuous
  if (residual <= limit) return
  report({
    ...{
      severity: 'warning',
      place: name,
      t,
      quantity: 'torque off the model, RMS',
      value: residual,
      limit,
      unit: 'N m',
    },
    says: 'What the drive told and what the masses of the rig make of the motion differ.',
    why: 'Predictions for the water rest on this model, and can be no better.',
    look: 'Look at the masses, rotor and friction of this joint and of those beyond it, then at the scale of its torque feedback.',
    stop: null,
  })
}

function overPayload({ rig, report }: Context, arm: LoadedArm): void {
  const { name, payload } = rig.arms[arm.joints[0]!.arm]!
  const { dry, afloat } = arm.carried
  const wet = afloat.most > dry.most
  const { most, reach, at } = wet ? afloat : dry
  if (most <= payload) return
  report({
    ...{
      severity: 'warning',
      place: name,
      t: at,
      quantity: 'payload used',
      value: most / payload,
      limit: 1,
      unit: 'share',
    },
    says: `${wet ? 'Afloat the' : 'The'} paddle loads the end of the arm more than its payload would, ${showQuantity(reach, 'm')} from the base.`,
    why: "A payload is what the arm's maker lets it carry; beyond it nobody has said what arm and mount bear.",
    look: 'Look at the mass and the area of the paddle, at how fast it goes, and how far out the arm reaches.',
    stop: null,
  })
}

function lower(text: string): string {
  return text[0]!.toLowerCase() + text.slice(1)
}
