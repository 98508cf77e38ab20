/** The joints of one arm all along a steady stroke, as the driver would have them. */
import type { Arm, Rig } from '../../files/rig.js'
import type { BladePath, StrokePlace } from '../../motion/blade.js'
import type { Way } from '../../motion/envelope.js'
import type { InverseKinematics } from '../../motion/ik.js'
import { POSE } from '../../motion/pose.js'
import { PARK_PHASE } from '../../motion/stroke.js'
import { Continuity } from '../continuity.js'
import { jointsOf, PARKED } from '../posture.js'
import { jumps, reasonOf } from '../unreachable.js'

/** Phase steps of a stroke. */
export const STEPS = 720
/** Of them until the place where strokes begin. */
const PARK = PARK_PHASE * STEPS
/** Strokes of the walk: the last one is kept, when spare joints have come to where they go round and round. */
const ROUNDS = 2

/** An arm, how it holds its blade, and where it begins. */
export interface ArmStroke {
  readonly arm: Arm
  readonly path: BladePath
  readonly ik: InverseKinematics
  /** rad, the arm's own joints */
  readonly park: Float64Array
}

/** Why, and where first. */
export interface NotReached {
  readonly phase: number
  readonly reason: string
}

/**
 * @param reach 0..1, share of the stroke's length
 * @returns rad, the arm's own joints at phase i / STEPS, one pose after the other; or why there are none
 */
export function strokePoses(rig: Rig, stroke: ArmStroke, reach: number, way: Way): Float64Array | NotReached {
  const { arm, path, ik, park } = stroke
  const joints = jointsOf(rig, arm)
  const n = joints.length
  const continuity = new Continuity(rig, arm, path, ik)
  const target = new Float64Array(POSE)
  const poses = new Float64Array(STEPS * n)
  const q = park.slice()
  const before = park.slice()
  let last: StrokePlace = { ...PARKED, reach }
  for (let k = 0; k <= ROUNDS * STEPS; k++) {
    const i = (((PARK + (way === 'ahead' ? k : -k)) % STEPS) + STEPS) % STEPS
    const place = { ...PARKED, reach, phase: i / STEPS }
    before.set(q)
    path.pose(place, target)
    const outcome = ik.solve(target, q)
    if (outcome !== 'solved' || ik.singularity < rig.driver.singularity)
      return { phase: place.phase, reason: reasonOf(joints, outcome, ik, rig.driver.singularity) }
    const jump = continuity.jump(last, place, before, q)
    if (jump) return { phase: place.phase, reason: jumps(jump) }
    poses.set(q, i * n)
    last = place
  }
  return poses
}
