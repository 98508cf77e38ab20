/**
 * How long a movement along a quintic, straight in joint space, must take for no end of a link and no edge of a blade to
 * go faster than a given speed.
 *
 * Links and blades are rigid: the speed of a point is the length of a function that is affine over the body, hence
 * convex, so that no point of a body is faster than the fastest corner of its hull. Corners are joint origins (ends of
 * links) and the four corners of the blade. Between the places of a grid the speed is bounded by its greatest slope, so
 * that the time holds everywhere and not on the grid only.
 */
import type { Arm, Joint, Rig } from '../files/rig.js'
import { Extremities } from './extremities.js'
import { PEAK_ACCELERATION, PEAK_SPEED, quintic } from './quintic.js'

/** What the bound on the speed between the places of the grid may add to the speeds at them, about. */
const ADDED = 0.015

/** Works it out, as much at a time as its caller likes: on a grid of a thousand places it takes longer than a loop may wait. */
export class SlowTime {
  readonly #arms: readonly PeakSpeed[]
  readonly #speed: number
  #arm = 0

  /** @param from rad, all joints of the rig; @param to rad; @param speed m/s */
  constructor(rig: Pick<Rig, 'arms' | 'joints'>, from: Float64Array, to: Float64Array, speed: number) {
    this.#speed = speed
    this.#arms = rig.arms.map((arm) => {
      const joints = arm.joints.map((i) => rig.joints[i]!)
      const own = (q: Float64Array): Float64Array => Float64Array.from(arm.joints, (i) => q[i]!)
      return new PeakSpeed(arm, joints, own(from), own(to))
    })
  }

  /** @param pieces of an arm's grid at most @returns it is worked out */
  step(pieces: number): boolean {
    while (this.#arm < this.#arms.length && this.#arms[this.#arm]!.step(pieces)) this.#arm++
    return this.#arm === this.#arms.length
  }

  /** s, once it is worked out; 0 when nothing moves */
  get seconds(): number {
    return Math.max(0, ...this.#arms.map(({ peak }) => peak / this.#speed))
  }
}

/**
 * The same at once.
 * @param from rad, all joints of the rig; @param to rad; @param speed m/s
 * @returns s; 0 when nothing moves
 */
export function slowTime(
  rig: Pick<Rig, 'arms' | 'joints'>,
  from: Float64Array,
  to: Float64Array,
  speed: number,
): number {
  const plan = new SlowTime(rig, from, to, speed)
  plan.step(Infinity)
  return plan.seconds
}

/** Of one arm. */
class PeakSpeed {
  readonly #extremities: Extremities
  readonly #from: Float64Array
  readonly #way: Float64Array
  readonly #q: Float64Array
  readonly #before: Float64Array
  readonly #pieces: number
  /** m: what the speed between two places may be above that of the chord, times the time */
  readonly #between: number
  #piece = 0
  /** m: of any point over any piece so far */
  #chord = 0

  constructor(arm: Arm, joints: readonly Joint[], from: Float64Array, to: Float64Array) {
    this.#from = from
    this.#way = from.map((a, i) => to[i]! - a)
    this.#q = new Float64Array(from.length)
    this.#extremities = new Extremities(arm, joints)
    this.#before = new Float64Array(this.#extremities.points.length)
    const lengths = [...joints.slice(1).map((j) => Math.hypot(...j.origin.at)), bladeReach(arm)]
    // A point moves at most as its joints turn times its distance from them: at most all links that lie between, stretched out.
    let [turn, sweep] = [0, 0]
    this.#way.forEach((d, i) => {
      turn += Math.abs(d)
      sweep += Math.abs(d) * lengths.slice(i).reduce((sum, l) => sum + l, 0)
    })
    // Over a piece a point's mean speed is its chord; the greatest is above that by no more than its slope over the piece.
    const bend = turn * PEAK_SPEED * PEAK_SPEED + PEAK_ACCELERATION
    this.#pieces = sweep === 0 ? 0 : Math.ceil(bend / (PEAK_SPEED * ADDED))
    this.#between = sweep === 0 ? 0 : (sweep * bend) / this.#pieces
    this.#place(0)
  }

  /** m: greatest speed of any point, times the time that the movement takes */
  get peak(): number {
    return this.#chord * this.#pieces + this.#between
  }

  step(pieces: number): boolean {
    const points = this.#extremities.points
    const before = this.#before
    const last = Math.min(this.#pieces, this.#piece + pieces)
    while (this.#piece < last) {
      before.set(points)
      this.#place(++this.#piece / this.#pieces)
      for (let p = 0; p < points.length; p += 3) {
        const x = points[p]! - before[p]!
        const y = points[p + 1]! - before[p + 1]!
        const z = points[p + 2]! - before[p + 2]!
        const chord = Math.sqrt(x * x + y * y + z * z)
        if (chord > this.#chord) this.#chord = chord
      }
    }
    return this.#piece === this.#pieces
  }

  #place(u: number): void {
    const s = quintic(u)
    for (let i = 0; i < this.#q.length; i++) this.#q[i] = this.#from[i]! + s * this.#way[i]!
    this.#extremities.at(this.#q)
  }
}

/** m, from the last joint to the farthest corner of the blade, at most. */
function bladeReach({ tool, paddle }: Arm): number {
  return Math.hypot(...tool.pose.at) + Math.hypot(paddle.length, paddle.width) / 2
}
