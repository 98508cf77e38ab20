/**
 * One arm's links as flat numbers for the recursions of its dynamics.
 *
 * Every joint is rewritten once as a turn about z, as in chain.ts, and then further: a rotation is a turn about z, a tilt about
 * x and another turn about z (Euler), so of the fixed rotation before a joint the first turn is taken into the frame of the link
 * before it and the last into the joint's own angle. What is left of a joint is Rx(tilt) Rz(q + offset) and a shift: a
 * vector costs eight products from frame to frame and not thirteen.
 *
 * Bodies are held as mass, first moment h = m c and second moments S = integral of r r^T dm about the link frame's origin.
 * S is the inertia about the origin in another form (I = trace S - S); forces of a turning body are shorter in it.
 */
import { DrystrokeError } from '../errors.js'
import type { Arm, Pose, Vector3 } from '../files/rig.js'
import { joined } from '../rigid.js'
import { type Body, placed, type Train } from './body.js'
import { multiply, POSE, poseOf, turnedBack, zOnto } from './pose.js'

/** Numbers a link has in `Links.data`. */
export const LINK = 16
/** rad, added to the joint's position. */
export const OFFSET = 0
/** Cosine and sine of the tilt. */
export const TILT = 1
/** m, three: where this link's frame is in that of the link before. */
export const SHIFT = 3
/** kg; then kg m, three: the first moment; then kg m2, six: second moments xx, yy, zz, xy, xz, yz. */
export const MASS = 6

export class Links {
  readonly n: number
  /** LINK numbers a link, from base to tip. */
  readonly data: Float64Array
  /** kg m2: inertia of each joint's rotor and gear, as seen at the joint. */
  readonly rotors: Float64Array
  /** rad: the frame that the first joint stands in is turned about the craft's z by this. */
  readonly heading: number
  /** m: the centre of the blade in the last link's frame. */
  readonly blade: Vector3

  /**
   * @param joints from base to tip: origin in the parent at position zero, and the unit axis in the joint's own frame
   * @param bodies one a joint
   * @param trains one a joint
   * @param held what the last link carries, in the blade's frame; null: nothing
   * @throws DrystrokeError `defect` unless there is one body and one train for each joint
   */
  constructor(
    arm: { readonly base: Pose; readonly tool: Pick<Arm['tool'], 'pose'> },
    joints: readonly { readonly origin: Pose; readonly axis: Vector3 }[],
    bodies: readonly Body[],
    trains: readonly Pick<Train, 'rotor'>[],
    held: Body | null,
  ) {
    const n = joints.length
    if (n === 0 || bodies.length !== n || trains.length !== n)
      throw new DrystrokeError(
        'defect',
        `${n} joints, ${bodies.length} bodies and ${trains.length} trains: every joint has one of each`,
      )
    this.n = n
    this.data = new Float64Array(n * LINK)
    this.rotors = Float64Array.from(trains, (train) => train.rotor)
    const turns = joints.map(({ axis }) => zOnto(axis))
    const [base, tool] = [poseOf(arm.base), poseOf(arm.tool.pose)]
    const laden = held === null ? bodies : bodies.with(-1, joined([bodies[n - 1]!, placed(held, tool)]))
    const fixed = joints.map(({ origin }, i) => {
      const back = i === 0 ? base : turnedBack(turns[i - 1]!)
      return product(product(back, poseOf(origin)), turns[i]!)
    })
    const angles = fixed.map(eulerAngles)
    this.heading = angles[0]!.first
    fixed.forEach((pose, i) => {
      const { first, cos, sin, last } = angles[i]!
      // The turn of the next joint's fixed part that this link's frame takes over.
      const taken = angles[i + 1]?.first ?? 0
      const at = i * LINK
      this.data.set([last + taken, cos, sin, ...inTurned(pose.subarray(9), first)], at)
      const link = product(turns[i]!, aboutZ(taken))
      this.data.set(moments(placed(laden[i]!, turnedBack(link))), at + MASS)
    })
    const blade = product(turnedBack(turns[n - 1]!), tool)
    this.blade = [blade[9]!, blade[10]!, blade[11]!]
  }
}

function product(a: Float64Array, b: Float64Array): Float64Array {
  const out = new Float64Array(POSE)
  multiply(a, b, out)
  return out
}

function aboutZ(angle: number): Float64Array {
  return poseOf({ at: [0, 0, 0], turn: [0, 0, angle] })
}

/** A vector as a frame has it that is turned about z by `angle`. */
export function inTurned([x, y, z]: ArrayLike<number> & Iterable<number>, angle: number): Vector3 {
  const [c, s] = [Math.cos(angle), Math.sin(angle)]
  return [c * x! + s * y!, c * y! - s * x!, z!]
}

/** R = Rz(first) Rx(tilt) Rz(last). Without tilt any first turn does: `last` is taken from what the first one leaves. */
function eulerAngles(pose: Float64Array): { first: number; cos: number; sin: number; last: number } {
  const sin = Math.hypot(pose[2]!, pose[5]!)
  const first = sin === 0 ? 0 : Math.atan2(pose[2]!, -pose[5]!)
  const [c, s] = [Math.cos(first), Math.sin(first)]
  const last = Math.atan2(-(c * pose[1]! + s * pose[4]!), c * pose[0]! + s * pose[3]!)
  return { first, cos: pose[8]!, sin, last }
}

/** Mass, first and second moments about the frame's origin. */
function moments({ mass, centre: [x, y, z], inertia: [xx, yy, zz, xy, xz, yz] }: Body): number[] {
  const half = (xx + yy + zz) / 2
  return [
    ...[mass, mass * x, mass * y, mass * z],
    ...[half - xx + mass * x * x, half - yy + mass * y * y, half - zz + mass * z * z],
    ...[mass * x * y - xy, mass * x * z - xz, mass * y * z - yz],
  ]
}
