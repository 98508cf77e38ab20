/** What is said about a blade pose that cannot be held. */
import { DrystrokeError } from '../errors.js'
import type { Arm, Joint } from '../files/rig.js'
import type { StrokePlace } from '../motion/blade.js'
import type { IkOutcome, InverseKinematics } from '../motion/ik.js'
import { showQuantity } from '../units.js'
import type { Jump } from './continuity.js'

/** The reason alone: `joint port.elbow would be 3.0 deg outside its range`. */
export function reasonOf(
  joints: readonly Joint[],
  outcome: IkOutcome,
  ik: Pick<InverseKinematics, 'joint' | 'margin' | 'singularity' | 'residual' | 'residualUnit'>,
  least: number,
): string {
  if (outcome === 'no-solution') {
    return `the blade stays ${showQuantity(ik.residual, ik.residualUnit)} short of it: out of reach, or a singular pose on the way`
  }
  if (outcome === 'limit') {
    return `joint ${joints[ik.joint]!.name} would be ${showQuantity(-ik.margin, 'rad')} outside its range`
  }
  return `the singularity measure is ${ik.singularity.toPrecision(3)}, below ${least}`
}

/** Both poses are good ones, but there is no way between them at the blade's speed. */
export function jumps({ joint, size }: Jump): string {
  return (
    `joint ${joint.name} jumps by ${showQuantity(size, 'rad')}, from one way of holding the blade to another; ` +
    'choose joint limits whose middles lie nearer to the wanted posture'
  )
}

/** The arm would not stand where the run expects it. */
export function notClosed(joint: Joint, off: number): string {
  return `joint ${joint.name} comes back to the park place ${showQuantity(off, 'rad')} from where it was parked`
}

export function unreachable(
  arm: Arm,
  joints: readonly Joint[],
  place: StrokePlace,
  outcome: IkOutcome,
  ik: Pick<InverseKinematics, 'joint' | 'margin' | 'singularity' | 'residual' | 'residualUnit'>,
  least: number,
): DrystrokeError {
  const where = place.lift > 0 ? ' on the way to the park place' : ''
  return new DrystrokeError(
    'unreachable',
    `arm ${arm.name} cannot hold its blade at phase ${place.phase.toFixed(3)} of the stroke${where}: ` +
      `${reasonOf(joints, outcome, ik, least)}; shorten or move the stroke, or change the arm's base or limits in the rig file`,
    {
      arm: arm.name,
      phase: Number(place.phase.toFixed(4)),
      joint: outcome === 'limit' ? joints[ik.joint]!.name : undefined,
      measure: outcome === 'solved' ? ik.singularity : undefined,
    },
  )
}
