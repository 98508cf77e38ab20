/**
 * The slow motion from the measured pose to the park pose: through the rig's via-points in their order, all joints
 * together, straight in joint space, at rest at each of them. It keeps a share of each joint's limits, the rig's speed cap,
 * and the tip speed for every end of a link and every edge of a blade.
 *
 * It may be held to run: let go of, its time slows down to nothing and the arms come to rest on the path; held again, they
 * go on. That is a pause, not a stop.
 */
import type { Rig } from '../files/rig.js'
import { JointMove } from '../motion/quintic.js'
import { Slew } from '../motion/slew.js'
import { slowTime } from '../motion/slow-move.js'

export type ApproachRig = Pick<Rig, 'arms' | 'joints' | 'control' | 'motion'> & {
  readonly link: Pick<Rig['link'], 'approach'>
}

/** 1/s, at most: from full pace to a pause in half a second and a little; common practice for hold-to-run, no source. */
const PAUSE_RATE = 2
/** 1/s of which that builds up */
const PAUSE_CHANGE = 10

export class Approach {
  /** s, of all moves together when nothing pauses them */
  readonly duration: number
  readonly #moves: readonly JointMove[]
  readonly #period: number
  /** 0..1, how fast the moves' own time runs */
  readonly #pace: Slew
  #move = 0
  #time = 0

  /**
   * @param poses rad: where the joints are held, poses to go through, the pose to go to
   * @param held at the beginning
   */
  constructor(rig: ApproachRig, poses: readonly Float64Array[], held = true) {
    this.#period = rig.control.period
    const limits = rig.joints.map((j) => j.limits)
    const share = Math.min(rig.link.approach, rig.motion.speedCap)
    this.#moves = poses.slice(1).map((to, i) => {
      const from = poses[i]!
      return new JointMove(from, to, limits, share, slowTime(rig, from, to, rig.motion.tipSpeed))
    })
    this.duration = this.#moves.reduce((sum, m) => sum + m.duration, 0)
    // The path's own accelerations use the share; slowing down along it may use what that leaves, by half.
    const rates = limits.map((l) => ((1 - share) * l.acceleration) / (2 * share * l.speed))
    const rate = Math.min(PAUSE_RATE, ...rates)
    this.#pace = new Slew(rate, Math.min(PAUSE_CHANGE, 10 * rate), this.#period)
    this.#pace.reset(held ? 1 : 0)
  }

  /** Nothing moves and nothing will before it is held again. */
  get paused(): boolean {
    return this.#pace.value === 0
  }

  /** Setpoints of the next period. @param held go on, or come to rest and wait @returns true once they are the last pose */
  step(out: Float64Array, held = true): boolean {
    const move = this.#moves[this.#move]!
    this.#pace.step(held ? 1 : 0)
    this.#time += this.#pace.value * this.#period
    move.at(this.#time, out)
    if (this.#time < move.duration) return false
    this.#time = 0
    return ++this.#move >= this.#moves.length
  }
}
