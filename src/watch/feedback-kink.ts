/**
 * Feedback that changes its speed as no joint can, from one SYNC to the next, without a leap: it stands still at once (a frozen encoder, the same
 * message again and again, or a joint that is blocked), turns round at once (its sign has changed), or jumps to and fro (noise). The
 * acceleration that this looks like stops the run before any difference has grown; what it truly is shows within the next few frames.
 *
 * Positions come one period T apart. A change of the way made in one period is a joint's own up to KINK times what its acceleration limit makes of
 * it, a T^2: drives can do more than the limit that a rig sets, by about twice. Encoder noise is allowed on top. Frames that were lost, came twice, or
 * answer SYNCs that were not a period apart begin it anew.
 */
import type { Nanos } from '../clock.js'
import type { Rig } from '../files/rig.js'
import { positionNoise } from './noise.js'

export type Kink = 'stands' | 'turned' | 'noise'

/** Times the acceleration limit. */
const KINK = 2
/** Standard deviations of noise; of a difference of readings it is sqrt 2 times that of one, of a second difference sqrt 6 times. */
const SIGMAS = 6
/** Frames in a row that stand, or go the other way, before it is said. */
const CONFIRMED = 3
/** Part by which the speed of feedback that turned may differ from before. */
const SAME = 1 / 4
/** Changes to and fro that make noise, within so many frames: a knock makes one or two. */
const FLIPS = 4
const WITHIN = 20
/** Part of a period by which a frame may come early or late. */
const UNEVEN = 1 / 4

export class FeedbackKink {
  /** Of the last kink: rad/s before it, or for noise rad, standard deviation; and the most that a joint could have made. */
  value = 0
  limit = 0
  readonly #period: Nanos
  /** [joint] rad: a T^2, noise of a reading, and what may come of the acceleration in a second difference. */
  readonly #bend: Float64Array
  readonly #noise: Float64Array
  readonly #joints: Joint[]

  constructor({ joints, control, simulation }: Rig) {
    const { period } = control
    this.#period = period * 1e9
    this.#bend = Float64Array.from(joints, (j) => j.limits.acceleration * period * period)
    this.#noise = Float64Array.from(joints, (j) => SIGMAS * positionNoise(j, simulation.feedback.noise))
    this.#joints = joints.map(() => new Joint())
  }

  /** Nothing is known any more of where the joint was. */
  restart(j: number): void {
    this.#joints[j]!.restart()
  }

  /**
   * @param position rad, sampled at SYNC `index`, that came at `t`
   * @param fresh a kink may begin now; one that has begun may be confirmed later
   */
  see(j: number, index: number, position: number, t: Nanos, fresh: boolean): Kink | null {
    const s = this.#joints[j]!
    if (index === s.index && position === s.position) return null
    const even = Math.abs(t - s.t - this.#period) <= UNEVEN * this.#period
    if (index !== s.index + 1 || !even) s.restart()
    const way = position - s.position
    const kink = s.frames >= 1 ? this.#judge(j, s, way, index, fresh) : null
    s.earlier = s.before
    s.before = s.last
    s.last = way
    s.frames++
    s.index = index
    s.position = position
    s.t = t
    return kink
  }

  #judge(j: number, s: Joint, way: number, index: number, fresh: boolean): Kink | null {
    if (s.frames >= 2 && this.#isNoise(j, s, way, index)) return 'noise'
    if (s.like !== null) {
      if (!this.#isLike(j, s, s.like, s.speed, way)) s.like = null
      else if (++s.confirmed >= CONFIRMED) return this.#say(j, s)
      else return null
    }
    // Two periods of even motion before the one in which it came about.
    if (!fresh || s.frames < 4 || !this.#isMotion(j, s)) return null
    for (const like of ['stands', 'turned'] as const)
      if (this.#isLike(j, s, like, s.before, way)) {
        s.like = like
        s.speed = s.before
        s.confirmed = 1
      }
    return null
  }

  /** Of one joint at the two ways before the last: they are alike, and more than it could lose within two periods. */
  #isMotion(j: number, { before, earlier }: Joint): boolean {
    const most = this.#most(j)
    return Math.abs(before) > most && Math.abs(before - earlier) <= most
  }

  /** rad: by how much a way may differ from the one two periods before. */
  #most(j: number): number {
    return 2 * KINK * this.#bend[j]! + Math.SQRT2 * this.#noise[j]!
  }

  #isLike(j: number, s: Joint, like: Kink, speed: number, way: number): boolean {
    const still = Math.SQRT2 * this.#noise[j]!
    if (like === 'stands') return Math.abs(way) <= still
    // It slows down, or is driven on, meanwhile.
    const off = SAME * Math.abs(speed) + KINK * (s.confirmed + 1) * this.#bend[j]!
    return Math.abs(way) > still && way * speed < 0 && Math.abs(way + speed) <= off
  }

  #say(j: number, s: Joint): Kink | null {
    const { like } = s
    s.like = null
    this.value = Math.abs(s.speed) / (this.#period / 1e9)
    this.limit = this.#most(j) / (this.#period / 1e9)
    return like
  }

  #isNoise(j: number, s: Joint, way: number, index: number): boolean {
    const change = way - s.last
    const most = KINK * this.#bend[j]! + Math.sqrt(6) * this.#noise[j]!
    const large = Math.abs(change) > most
    if (large && change * s.change < 0) {
      s.flips.push(index)
      s.squares = s.flips.length === 1 ? change * change : s.squares + change * change
    }
    s.change = large ? change : 0
    if (s.flips.length < FLIPS) return false
    const quick = index - s.flips[0]! <= WITHIN
    this.value = Math.sqrt(s.squares / s.flips.length / 6)
    this.limit = most / Math.sqrt(6)
    s.flips.length = 0
    return quick
  }
}

/** What is remembered of one joint's feedback. */
class Joint {
  /** In a row, one a period. */
  frames = 0
  index = -2
  position = 0
  t: Nanos = 0
  /** rad, ways made in the last periods, the last first */
  last = 0
  before = 0
  earlier = 0
  /** What it may be, at what way a period it was before (rad), and frames that were like it. */
  like: Kink | null = null
  speed = 0
  confirmed = 0
  /** rad, last change of the way that was too large, 0: it was not; and SYNCs at which such changes turned round, with their squares. */
  change = 0
  squares = 0
  readonly flips: number[] = []

  restart(): void {
    this.frames = this.change = 0
    this.like = null
    this.flips.length = 0
  }
}
