/**
 * All bodies of a rig in the craft frame: the capsules of its arms, then those of the volumes, then the boxes. The distance of
 * two bodies is that of their lines (or line and box) less both radii: exact for these shapes as long as they are apart;
 * below zero it says that they overlap, not how far.
 */
import type { ClearanceSettings, Rig } from '../../files/rig.js'
import { POSE, poseOf } from '../pose.js'
import { ArmCapsules } from './arm-capsules.js'
import { BOX, betweenSegmentAndBox } from './box.js'
import { betweenSegments, SEGMENT } from './segments.js'

/** A rig that says how thick its arms are. */
export type ThickRig = Pick<Rig, 'arms' | 'joints'> & { readonly clearance: ClearanceSettings }

export class Bodies {
  readonly arms: readonly ArmCapsules[]
  /** Of the first capsule of each arm. */
  readonly first: readonly number[]
  /** Of each body: `arm.part`, or the volume's. */
  readonly names: readonly string[]
  /** Of each body: below the number of arms an arm, from there on a volume. */
  readonly things: readonly number[]
  /** m, of each body */
  readonly radii: Float64Array
  readonly #segments: Float64Array
  readonly #boxes: Float64Array
  readonly #capsules: number
  /** rad, joints of one arm, by arm */
  readonly #q: readonly Float64Array[]
  readonly #joints: readonly (readonly number[])[]

  constructor({ arms, joints, clearance }: ThickRig) {
    const { base, links, paddle, keepOut } = clearance
    this.arms = arms.map((arm) => {
      const mine = arm.joints.map((j) => joints[j]!)
      return new ArmCapsules(arm, mine, { base, links: arm.joints.map((j) => links[j]!), paddle })
    })
    const parts = keepOut.flatMap(({ name, parts }, i) =>
      parts.map((part) => ({ ...part, name, thing: arms.length + i })),
    )
    const rods = parts.filter((part) => part.shape === 'capsule')
    const boxes = parts.filter((part) => part.shape === 'box')
    const first: number[] = []
    let count = 0
    for (const arm of this.arms) {
      first.push(count)
      count += arm.names.length
    }
    this.first = first
    this.#capsules = count + rods.length
    this.names = [...this.arms.flatMap((arm) => arm.names), ...[...rods, ...boxes].map((part) => part.name)]
    this.things = [
      ...this.arms.flatMap((arm, i) => arm.names.map(() => i)),
      ...[...rods, ...boxes].map((part) => part.thing),
    ]
    this.radii = Float64Array.from([
      ...this.arms.flatMap((arm) => [...arm.radii]),
      ...[...rods, ...boxes].map((part) => part.radius),
    ])
    this.#segments = new Float64Array(this.#capsules * SEGMENT)
    rods.forEach(({ from, to }, i) => {
      this.#segments.set([...from, ...to], (count + i) * SEGMENT)
    })
    this.#boxes = new Float64Array(boxes.length * BOX)
    boxes.forEach(({ pose, size }, i) => {
      this.#boxes.set(poseOf(pose), i * BOX)
      this.#boxes.set(
        size.map((s) => s / 2),
        i * BOX + POSE,
      )
    })
    this.#joints = arms.map((arm) => arm.joints)
    this.#q = arms.map((arm) => new Float64Array(arm.joints.length))
  }

  /** Puts an arm where its joints are at a share of the way from `from` to `to` (rad, all joints of the rig). */
  place(arm: number, from: Float64Array, to: Float64Array, share: number): void {
    const q = this.#q[arm]!
    const joints = this.#joints[arm]!
    for (let i = 0; i < q.length; i++) {
      const j = joints[i]!
      q[i] = from[j]! + share * (to[j]! - from[j]!)
    }
    this.arms[arm]!.place(q, this.#segments, this.first[arm]! * SEGMENT)
  }

  /** Copies the ends of a capsule's line, where the arms were put last, to out[at] on; of a box, which never moves, zeros. */
  line(body: number, out: Float64Array, at: number): void {
    const capsule = body < this.#capsules
    for (let k = 0; k < SEGMENT; k++) out[at + k] = capsule ? this.#segments[body * SEGMENT + k]! : 0
  }

  /**
   * Where the arms were put last.
   * @param a a capsule; @param b any body
   * @param out distance (m), then the closest points of the two lines, or of line and box, as in segments.ts
   */
  measure(a: number, b: number, out: Float64Array): void {
    if (b < this.#capsules) betweenSegments(this.#segments, a * SEGMENT, this.#segments, b * SEGMENT, out)
    else betweenSegmentAndBox(this.#segments, a * SEGMENT, this.#boxes, (b - this.#capsules) * BOX, out)
    out[0] = out[0]! - this.radii[a]! - this.radii[b]!
  }
}
