/**
 * The capsules that stand for an arm: all within a radius of a line. Those of its links are as good as the stated radii; the
 * blade, a flat plate, is covered by three that lie side by side along the shaft, so that it is taken to be thicker, and longer
 * at both ends, by a sixth of its width.
 *
 *     base             from the base to the first joint; it does not move
 *     one a joint      from the joint to the next one; of the last joint a ball, for what holds the paddle
 *     shaft            from the last joint to the blade's inboard end
 *     blade            three
 *
 * A bound on the motion goes with each: where joint i turns by dq_i, on a straight way in joint space, no point of the capsule
 * moves farther than the sum of |dq_i| reach_i. The reach is the greatest distance that the capsule can have from the axis of
 * joint i: that of the next joint, which never changes, and from there along the links.
 */
import type { Arm, Joint, Vector3 } from '../../files/rig.js'
import { Chain } from '../chain.js'
import { cross, poseOf } from '../pose.js'
import { SEGMENT } from './segments.js'

/** Capsules that cover a blade. */
const STRIPES = 3

/** m, radii of the parts of an arm */
export interface ArmRadii {
  readonly base: number
  /** of the arm's joints, from base to tip */
  readonly links: readonly number[]
  readonly paddle: number
}

export class ArmCapsules {
  /** Of each capsule: `arm.part`. The three of a blade share one. */
  readonly names: readonly string[]
  /** m */
  readonly radii: Float64Array
  /** m, capsule by capsule and joint by joint: the bound on the way of any of its points for each rad that the joint turns */
  readonly reach: Float64Array
  readonly chain: Chain
  /** m, from the last joint to where the shaft meets the blade */
  readonly shaftLength: number
  /** m, ends of shaft and blade in the blade's frame: first where the shaft meets the blade, then the ends of each stripe */
  readonly #ends: Float64Array
  readonly #base: Vector3

  constructor(arm: Arm, joints: readonly Joint[], radii: ArmRadii) {
    const n = joints.length
    this.chain = new Chain(arm, joints)
    this.#base = arm.base.at
    const { length, width } = arm.paddle
    const { shaft, normal } = arm.tool
    const across = cross(normal, shaft)
    const end = (along: number, aside: number) => shaft.map((s, k) => (s * along) / 2 + across[k]! * aside)
    const offsets = Array.from({ length: STRIPES }, (_, i) => width * ((i + 0.5) / STRIPES - 0.5))
    const ends = [end(-length, 0), ...offsets.flatMap((aside) => [end(-length, aside), end(length, aside)])]
    this.#ends = Float64Array.from(ends.flat())
    const stripe = Math.max(width / (2 * STRIPES), radii.paddle)
    const names = ['base', ...joints.map(({ name }) => name.slice(name.indexOf('.') + 1)), 'shaft']
    this.names = [...names, ...offsets.map(() => 'blade')].map((part) => `${arm.name}.${part}`)
    this.radii = Float64Array.of(radii.base, ...radii.links, radii.paddle, ...offsets.map(() => stripe))
    this.reach = new Float64Array(this.names.length * n)
    // Points of the arm: the joints' origins, then the ends in the blade's frame; two of them make a capsule.
    const pairs: [number, number][] = joints.map((_, i) => [i, Math.min(i + 1, n - 1)])
    pairs.push([n - 1, n], ...offsets.map((_, i): [number, number] => [n + 1 + 2 * i, n + 2 + 2 * i]))
    const tips = ends.map((e) => moved(arm, e as unknown as Vector3))
    this.shaftLength = Math.hypot(...tips[0]!)
    pairs.forEach((points, c) => {
      for (let i = 0; i < n; i++) {
        this.reach[(c + 1) * n + i] = Math.max(...points.map((point) => reachOf(joints, tips, i, point)))
      }
    })
  }

  /** Writes where the capsules' lines are at joint positions `q` (rad). @param out at[i] on, `SEGMENT` numbers a capsule, m, craft frame */
  place(q: Float64Array, out: Float64Array, at: number): void {
    const { chain } = this
    chain.forward(q)
    const { n, origins } = chain
    const base = this.#base
    let to = at
    for (let k = 0; k < 3; k++) {
      out[to + k] = base[k]!
      out[to + 3 + k] = origins[k]!
    }
    to += SEGMENT
    for (let i = 0; i < n; i++) {
      const next = Math.min(i + 1, n - 1)
      for (let k = 0; k < 3; k++) {
        out[to + k] = origins[3 * i + k]!
        out[to + 3 + k] = origins[3 * next + k]!
      }
      to += SEGMENT
    }
    for (let k = 0; k < 3; k++) {
      out[to + k] = origins[3 * (n - 1) + k]!
      out[to + 3 + k] = this.#end(0, k)
    }
    to += SEGMENT
    for (let e = 1; e <= 2 * STRIPES; e++) {
      for (let k = 0; k < 3; k++) out[to + k] = this.#end(e, k)
      to += 3
    }
  }

  /** Coordinate k of an end in the craft frame. */
  #end(e: number, k: number): number {
    const t = this.chain.blade
    const ends = this.#ends
    const [x, y, z] = [3 * e, 3 * e + 1, 3 * e + 2]
    return t[9 + k]! + t[3 * k]! * ends[x]! + t[3 * k + 1]! * ends[y]! + t[3 * k + 2]! * ends[z]!
  }
}

/** A point of the blade's frame, in that of the last joint. */
function moved({ tool }: Arm, [x, y, z]: Vector3): Vector3 {
  const t = poseOf(tool.pose)
  const row = (k: number): number => t[9 + k]! + t[3 * k]! * x + t[3 * k + 1]! * y + t[3 * k + 2]! * z
  return [row(0), row(1), row(2)]
}

/** m from the axis of joint i, at most. @param point below the number of joints: that joint's origin, else one of `tips` in the last joint's frame */
function reachOf(joints: readonly Joint[], tips: readonly Vector3[], i: number, point: number): number {
  const n = joints.length
  const last = Math.min(point, n - 1)
  if (point <= i) return 0
  const tip = point < n ? null : tips[point - n]!
  // The next point on the way turns about the axis at a distance that stays.
  const next = i < last ? joints[i + 1]!.origin.at : tip!
  let reach = Math.hypot(...cross(next, joints[i]!.axis))
  for (let k = i + 2; k <= last; k++) reach += Math.hypot(...joints[k]!.origin.at)
  return tip !== null && i < last ? reach + Math.hypot(...tip) : reach
}
