/**
 * The slow motion from the measured pose to the park pose: through the rig's via-points in their order, all joints
 * together, straight in joint space, at rest at each of them. It keeps a share of each joint's limits, the rig's speed cap,
 * and the tip speed for every end of a link and every edge of a blade.
 *
 * Until its time is worked out, a little in each period so that the loop waits for nothing, the arms stand where they are.
 *
 * It may be held to run: let go of, its time slows down to nothing and the arms come to rest on the path; held again, they
 * go on. That is a pause, not a stop.
 */
import type { Rig } from '../files/rig.js'
import { JointMove } from '../motion/quintic.js'
import { Slew } from '../motion/slew.js'
import { SlowTime } from '../motion/slow-move.js'

export type ApproachRig = Pick<Rig, 'arms' | 'joints' | 'control' | 'motion'> & {
  readonly link: Pick<Rig['link'], 'approach'>
}

/** Of the grid on which a movement's time is worked out, in one period: some hundredths of a millisecond. */
const PIECES_A_PERIOD = 50
/** 1/s, at most: from full pace to a pause in half a second and a little; common practice for hold-to-run, no source. */
const PAUSE_RATE = 2
/** 1/s of which that builds up */
const PAUSE_CHANGE = 10

export class Approach {
  readonly #rig: ApproachRig
  readonly #poses: readonly Float64Array[]
  /** 0..1 of each joint's limits */
  readonly #share: number
  /** 0..1, how fast the moves' own time runs */
  readonly #pace: Slew
  readonly #moves: JointMove[] = []
  #next: SlowTime | null = null
  #move = 0
  #time = 0

  /**
   * @param poses rad: where the joints are held, poses to go through, the pose to go to; copied
   * @param held at the beginning
   */
  constructor(rig: ApproachRig, poses: readonly Float64Array[], held = true) {
    this.#rig = rig
    this.#poses = poses.map((pose) => pose.slice())
    this.#share = Math.min(rig.link.approach, rig.motion.speedCap)
    // The path's own accelerations use the share; slowing down along it may use what that leaves, by half.
    const rates = rig.joints.map(
      ({ limits }) => ((1 - this.#share) * limits.acceleration) / (2 * this.#share * limits.speed),
    )
    const rate = Math.min(PAUSE_RATE, ...rates)
    this.#pace = new Slew(rate, Math.min(PAUSE_CHANGE, 10 * rate), rig.control.period)
    this.#pace.reset(held ? 1 : 0)
  }

  /** Nothing moves and nothing will before it is held again. */
  get paused(): boolean {
    return this.#pace.value === 0
  }

  /** s, of all moves together when nothing pauses them; once they are worked out */
  get duration(): number {
    return this.#moves.reduce((sum, { duration }) => sum + duration, 0)
  }

  /** Works the moves out. @param pieces of the grid at most @returns they are all worked out */
  plan(pieces: number): boolean {
    const { joints, motion } = this.#rig
    const [from, to] = [this.#poses[this.#moves.length]!, this.#poses[this.#moves.length + 1]]
    if (!to) return true
    this.#next ??= new SlowTime(this.#rig, from, to, motion.tipSpeed)
    if (!this.#next.step(pieces)) return false
    const limits = joints.map((j) => j.limits)
    this.#moves.push(new JointMove(from, to, limits, this.#share, this.#next.seconds))
    this.#next = null
    return this.#moves.length + 1 === this.#poses.length
  }

  /** Setpoints of the next period. @param held go on, or come to rest and wait @returns true once they are the last pose */
  step(out: Float64Array, held = true): boolean {
    if (!this.plan(PIECES_A_PERIOD)) {
      out.set(this.#poses[0]!)
      return false
    }
    const move = this.#moves[this.#move]!
    this.#pace.step(held ? 1 : 0)
    this.#time += this.#pace.value * this.#rig.control.period
    move.at(this.#time, out)
    if (this.#time < move.duration) return false
    this.#time = 0
    return ++this.#move >= this.#moves.length
  }
}
