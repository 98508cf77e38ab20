/** What an envelope rests on, and what a rig leaves unsaid. */
import { lacksAfloat } from '../../files/afloat-complaints.js'
import type { Rig } from '../../files/rig.js'
import { showQuantity } from '../../units.js'

/** Of water and hull. */
const WATER =
  'Still, flat, deep water without wind and current; a level craft; blades as flat plates, and no air drawn down behind them.'

/** @param unsettled in how many directions no steady way was found */
export function assumptionsOf(rig: Rig, unsettled: number): string[] {
  const { motion, link, stroke, driver, joints, clearance } = rig
  const weightless = joints.filter((joint) => joint.body === null)
  const unrated = joints.filter((joint) => joint.rating === null)
  return [
    'Steady strokes of the reference driver. Speeding up, slowing down, parking and passing through zero are not in it: drystroke run shows them.',
    'Limits are taken whole. Noise, overshoot and what a drive lags come on top: keep some margin.',
    ...(stroke.sides === 'free'
      ? []
      : [
          `Strokes are ${stroke.sides}: the faster side sets the cadence, the other shortens its stroke; both are taken to be in step.`,
        ]),
    ...(motion.speedCap < 1
      ? [
          `Joint speeds are held against the speed cap of ${showQuantity(motion.speedCap, 'share')}; beyond it, and from four fifths of it a little, the driver slows its strokes and makes less way than it is told to.`,
        ]
      : []),
    ...(driver.slip > 0
      ? [`Blades go faster than the command by the slip of ${showQuantity(driver.slip, 'share')}.`]
      : []),
    weightless.length > 0
      ? `Torque was not looked at on an arm with a joint whose body is not stated (${nameSome(weightless)}).`
      : `Torques on dry land: gravity, inertia, rotors and friction, a blade in still air. Afloat the water on the blade comes on top. Both are held against ${showQuantity(link.torqueShare, 'share')} of the torque limits (link.torque-share), and against the ratings.`,
    ...afloatAssumptions(rig, unsettled),
    ...(weightless.length === 0 && unrated.length > 0
      ? [`Lasting torque was looked at where a joint's rating is stated: not of ${nameSome(unrated)}.`]
      : []),
    'Following window: two control periods lie between a setpoint and the feedback that it is held against; the way of a joint in them is compared with link.window.',
    clearance === null
      ? 'Clearance was not looked at: the rig does not say how thick its arms are (clearance).'
      : 'Clearance: from each other, themselves and the volumes of the rig, anywhere on steady strokes, with a side that stands still parked. It does not depend on speed. The way to the park place is looked at by drystroke check.',
  ]
}

function afloatAssumptions(rig: Rig, unsettled: number): string[] {
  const lacks = lacksAfloat(rig)
  if (lacks !== null) return [`Torque afloat was not looked at: the rig lacks ${lacks}.`]
  return [
    'Torque afloat is looked at twice, and the worse counts: from a standing start, the craft still at rest while the blades go as commanded, and under the steady way that the command brings about. Lasting torque is that under way: a start is over before a motor warms.',
    `${WATER} The craft's way is taken as even over a stroke, and its own acceleration is left out.`,
    ...(unsettled > 0
      ? [`In ${unsettled} directions no steady way was found: there the standing start alone was looked at.`]
      : []),
  ]
}

/** Of a cruise, its battery apart. */
export function cruiseAssumptions({ joints }: Rig): string[] {
  const smooth = joints.filter(({ train }) => train.viscous === 0 && train.coulomb.every((c) => c === 0))
  return [
    WATER,
    'Power is that of the joints, links and rotors and friction included, mean over whole strokes. What a joint gives back while its drive brakes is taken as lost, not as charge.',
    ...(smooth.length > 0
      ? [`No friction is stated for ${nameSome(smooth)}: their power is too small.`]
      : []),
    'What windings lose as heat, above all while they hold weight, no rig file states: it comes on top. Measure the current of one cruise.',
  ]
}

function nameSome(joints: readonly { readonly name: string }[]): string {
  const some = joints.slice(0, 3).map(({ name }) => name)
  return joints.length > some.length
    ? `${some.join(', ')} and ${joints.length - some.length} more`
    : some.join(', ')
}
