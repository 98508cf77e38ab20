/** Whether joints follow the blade's path without a leap: each pose may be a good one and the next still far from it. */
import type { Arm, Joint, Rig } from '../files/rig.js'
import type { BladePath, StrokePlace } from '../motion/blade.js'
import type { InverseKinematics } from '../motion/ik.js'
import { POSE } from '../motion/pose.js'

/** rad: a joint step below this between two places of a walk is never looked into. */
const SUSPICIOUS = 0.02
/** Into so many pieces a suspicious step is cut. */
const PIECES = 16

export interface Jump {
  readonly joint: Joint
  /** rad, without sign */
  readonly size: number
}

export class Continuity {
  readonly #joints: readonly Joint[]
  readonly #path: BladePath
  readonly #ik: Pick<InverseKinematics, 'solve'>
  readonly #target = new Float64Array(POSE)
  readonly #piece: Float64Array
  readonly #last: Float64Array

  constructor(rig: Rig, arm: Arm, path: BladePath, ik: Pick<InverseKinematics, 'solve'>) {
    this.#joints = arm.joints.map((index) => rig.joints[index]!)
    this.#path = path
    this.#ik = ik
    this.#piece = new Float64Array(arm.joints.length)
    this.#last = new Float64Array(arm.joints.length)
  }

  /**
   * Tells a jump from a steep path by a finer walk: along a path a joint's step shrinks with the pieces, and the finer walk ends at
   * the same place. It is a jump when a single piece has more than half of the step, or the ends are as far apart. Overwrites what
   * the last solution left in `ik`.
   * @param from where the arm stood, @param to where it went: neighbours on a walk
   * @param before rad, joint positions at `from`, @param after at `to`
   * @returns the joint that jumps, or null
   */
  jump(from: StrokePlace, to: StrokePlace, before: Float64Array, after: Float64Array): Jump | null {
    const whole = this.#farthest(before, after)
    if (whole.size <= SUSPICIOUS) return null
    const last = this.#last
    const piece = this.#piece
    piece.set(before)
    for (let i = 1; i <= PIECES; i++) {
      last.set(piece)
      this.#path.pose(between(from, to, i / PIECES), this.#target)
      // Nothing to hold the blade with on the way: what lies beyond was reached by a leap.
      if (this.#ik.solve(this.#target, piece) === 'no-solution') return whole
      const moved = this.#farthest(last, piece)
      if (moved.size > whole.size / 2) return moved
    }
    return this.#farthest(piece, after).size > whole.size / 2 ? whole : null
  }

  /** The joint that differs most. */
  #farthest(a: Float64Array, b: Float64Array): Jump {
    let most = 0
    for (let i = 1; i < a.length; i++) {
      if (Math.abs(b[i]! - a[i]!) > Math.abs(b[most]! - a[most]!)) most = i
    }
    return { joint: this.#joints[most]!, size: Math.abs(b[most]! - a[most]!) }
  }
}

/** The place at a share of the way between two neighbours; the phase goes the short way round. */
function between(from: StrokePlace, to: StrokePlace, share: number): StrokePlace {
  const way = to.phase - from.phase
  const phase = from.phase + share * (way - Math.round(way))
  const along = (a: number, b: number): number => a + share * (b - a)
  return {
    phase: phase - Math.floor(phase),
    reach: along(from.reach, to.reach),
    lift: along(from.lift, to.lift),
    carry: along(from.carry, to.carry),
  }
}
