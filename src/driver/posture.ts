/** Which of an arm's ways of holding the blade it uses: found once, by walking the whole stroke with each. */
import { DrystrokeError } from '../errors.js'
import type { Arm, Joint, Rig } from '../files/rig.js'
import type { BladePath, StrokePlace } from '../motion/blade.js'
import { Chain } from '../motion/chain.js'
import { type IkOutcome, InverseKinematics } from '../motion/ik.js'
import { POSE } from '../motion/pose.js'
import { PARK_PHASE } from '../motion/stroke.js'
import { randomStream } from '../random.js'
import { Continuity } from './continuity.js'

/** Random starting poses tried for each arm. */
const STARTS = 96
/** Phase steps of the walk that judges a posture. */
const STEPS = 180
/** rad: more distance than this from the ends of the joint ranges does not make a posture better. */
const AMPLE = 0.35
/** rad: a pose that a further solution moves no more than this is at rest, spare joints too. */
const AT_REST = 1e-10
/** rad: so near to where it was a joint must be again when the blade has gone round. */
const CLOSED = 1e-4
/** Solutions in which the spare joints of a starting pose must have come to rest. */
const MOST_SOLUTIONS = 8

/** The park place as a place in the stroke. */
export const PARKED: StrokePlace = { phase: PARK_PHASE, reach: 1, lift: 0, carry: 0 }

export function jointsOf(rig: Rig, arm: Arm): Joint[] {
  return arm.joints.map((index) => rig.joints[index]!)
}

/** @throws DrystrokeError `file-invalid` when fewer joints than constrained freedoms are given */
export function kinematicsOf(rig: Rig, arm: Arm): InverseKinematics {
  const joints = jointsOf(rig, arm)
  const held = arm.tool.constrained
  if (held.length === 0 || held.length > joints.length) {
    throw new DrystrokeError(
      'file-invalid',
      `arm ${arm.name} has ${joints.length} joints and constrains ${held.length} blade axes (${held.join(', ')}); ` +
        'name at least one and at most as many as it has joints',
      { arm: arm.name },
    )
  }
  return new InverseKinematics(
    new Chain(arm, joints),
    arm.tool,
    joints.map((joint) => joint.limits),
  )
}

/** What a posture is found from. */
type Grounds = Pick<Rig, 'arms' | 'joints' | 'stroke' | 'craft'>

/** Those that were found: a series plays one rig again and again, and a search takes as long as a second of a run. */
const known = new WeakMap<Arm, { readonly grounds: Grounds; readonly park: Float64Array }>()

/**
 * Joint positions (rad) at the park place, in the posture whose worst pose over the whole stroke is the best conditioned,
 * with the ends of the joint ranges kept clear of. When no posture reaches everywhere, the one that gets farthest.
 * @throws DrystrokeError `unreachable` when no posture reaches the park place itself
 */
export function parkPosture(rig: Rig, arm: Arm, path: BladePath, ik: InverseKinematics): Float64Array {
  const before = known.get(arm)
  if (before && sameGrounds(before.grounds, rig)) return before.park.slice()
  const { arms, joints, stroke, craft } = rig
  const park = search(rig, arm, path, ik)
  known.set(arm, { grounds: { arms, joints, stroke, craft }, park: park.slice() })
  return park
}

function sameGrounds(a: Grounds, b: Grounds): boolean {
  return a.arms === b.arms && a.joints === b.joints && a.stroke === b.stroke && a.craft === b.craft
}

function search(rig: Rig, arm: Arm, path: BladePath, ik: InverseKinematics): Float64Array {
  const joints = jointsOf(rig, arm)
  const random = randomStream(1, `posture ${arm.name}`)
  /** Apart from the targets of the walks, which may end anywhere. */
  const parked = new Float64Array(POSE)
  const walked = new Float64Array(joints.length)
  const tried: Float64Array[] = []
  let best: Float64Array | undefined
  let bestScore = Number.NEGATIVE_INFINITY
  let limit = ''
  const continuity = new Continuity(rig, arm, path, ik)
  path.pose(PARKED, parked)
  for (let start = 0; start < STARTS; start++) {
    const q = Float64Array.from(joints, ({ limits }) => {
      // The first start is the middle of all ranges.
      const share = start === 0 ? 0.5 : random.uniform()
      return limits.lower + share * (limits.upper - limits.lower)
    })
    if (ik.solve(parked, q) === 'no-solution') continue
    wholeTurns(q, joints)
    const outcome = settle(ik, parked, q)
    if (outcome !== 'solved') {
      if (outcome === 'limit')
        limit = `; in one posture that meets it joint ${joints[ik.joint]!.name} is outside its range`
      continue
    }
    if (tried.some((other) => other.every((x, i) => Math.abs(x - q[i]!) < 1e-6))) continue
    tried.push(q)
    walked.set(q)
    const score = walk(path, ik, continuity, walked)
    if (score > bestScore) {
      bestScore = score
      best = q
    }
  }
  if (best) return best
  throw new DrystrokeError(
    'unreachable',
    `arm ${arm.name} cannot hold its blade at the park place (phase ${PARK_PHASE}) inside its joint limits${limit}; ` +
      "check the arm's base, its joints and the stroke in the rig file",
    { arm: arm.name, phase: PARK_PHASE },
  )
}

/**
 * Solves again and again until the pose stays where it is: one solution may meet the target with a spare joint still on its way,
 * and the driver's first step would go on from there, in one control period. A pose that does not come to rest is none.
 */
function settle(ik: InverseKinematics, target: Float64Array, q: Float64Array): IkOutcome {
  const before = new Float64Array(q.length)
  for (let count = 0; count < MOST_SOLUTIONS; count++) {
    before.set(q)
    const outcome = ik.solve(target, q)
    if (outcome === 'no-solution') return outcome
    if (q.every((x, i) => Math.abs(x - before[i]!) <= AT_REST)) return outcome
  }
  return 'no-solution'
}

/**
 * Below -1: how far the stroke is followed before a place is not reached, or by a jump only. -1: all of it, but the joints
 * do not come back. Else the least singularity measure, less when a range's end is near.
 */
function walk(path: BladePath, ik: InverseKinematics, continuity: Continuity, q: Float64Array): number {
  const target = new Float64Array(POSE)
  const start = q.slice()
  const before = q.slice()
  let singularity = Number.POSITIVE_INFINITY
  let margin = AMPLE
  let last = PARKED
  for (let i = 1; i <= STEPS; i++) {
    const place = { ...PARKED, phase: (PARK_PHASE + i / STEPS) % 1 }
    before.set(q)
    path.pose(place, target)
    if (ik.solve(target, q) !== 'solved') return i / STEPS - 3
    singularity = Math.min(singularity, ik.singularity)
    margin = Math.min(margin, ik.margin)
    if (continuity.jump(last, place, before, q)) return i / STEPS - 3
    last = place
  }
  return backAgain(q, start) < 0 ? (singularity * margin) / AMPLE : -1
}

/** @returns place of the first joint that is not where it was, or -1 */
export function backAgain(q: Float64Array, start: Float64Array): number {
  return q.findIndex((x, i) => Math.abs(x - start[i]!) > CLOSED)
}

/** Takes each joint by whole turns to where it is nearest to the middle of its range. */
function wholeTurns(q: Float64Array, joints: readonly Joint[]): void {
  joints.forEach(({ limits }, i) => {
    const middle = (limits.lower + limits.upper) / 2
    q[i] = q[i]! - 2 * Math.PI * Math.round((q[i]! - middle) / (2 * Math.PI))
  })
}
