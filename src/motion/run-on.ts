/** How far an arm still goes that nobody tells anything any more: on at its speed for a while, then braked. */
import type { Arm, Joint } from '../files/rig.js'
import { Extremities } from './extremities.js'

/**
 * rad, with the sign of the speed: v t + v |v| / (2 a).
 * @param speed rad/s @param wait s until it is braked @param deceleration rad/s2, even until it stands
 */
export function runOn(speed: number, wait: number, deceleration: number): number {
  return speed * wait + (speed * Math.abs(speed)) / (2 * deceleration)
}

/** How far the blade of one arm is then from where it was: the farthest of its corners, of the places it comes by on the way. */
export class BladeRunOn {
  readonly #extremities: Extremities
  readonly #from: Float64Array
  readonly #q: Float64Array
  /** m, by joint: no point of the blade is farther from its axis. */
  readonly #reach: Float64Array

  /** @param joints the arm's own, from base to tip */
  constructor(arm: Pick<Arm, 'base' | 'tool' | 'paddle'>, joints: readonly Joint[]) {
    this.#extremities = new Extremities(arm, joints)
    this.#from = new Float64Array(this.#extremities.points.length)
    this.#q = new Float64Array(joints.length)
    const { tool, paddle } = arm
    const end = Math.hypot(...tool.pose.at) + Math.hypot(paddle.length, paddle.width) / 2
    const links = [...joints.slice(1).map(({ origin }) => Math.hypot(...origin.at)), end]
    this.#reach = Float64Array.from(links, (_, i) => links.slice(i).reduce((sum, l) => sum + l, 0))
  }

  /**
   * Looked at half-way and at the end, each joint that share of its way.
   * @param q rad @param on rad, how far each joint runs on; n each @param least m @returns m, or 0 where it is surely below `least`
   */
  travel(q: Float64Array, on: Float64Array, least = 0): number {
    let most = 0
    for (let i = 0; i < on.length; i++) most += Math.abs(on[i]!) * this.#reach[i]!
    if (most < least) return 0
    const { points, blade } = this.#extremities
    this.#extremities.at(q)
    this.#from.set(points)
    let farthest = 0
    for (let half = 1; half <= 2; half++) {
      for (let i = 0; i < q.length; i++) this.#q[i] = q[i]! + (half / 2) * on[i]!
      this.#extremities.at(this.#q)
      for (let p = blade; p < points.length; p += 3) {
        const x = points[p]! - this.#from[p]!
        const y = points[p + 1]! - this.#from[p + 1]!
        const z = points[p + 2]! - this.#from[p + 2]!
        const way = Math.sqrt(x * x + y * y + z * z)
        if (way > farthest) farthest = way
      }
    }
    return farthest
  }
}
