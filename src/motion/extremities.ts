/** The ends of an arm's links and the corners of its blade, in the craft frame: no point of these rigid bodies is ever faster (slow-move.ts). */
import type { Arm, Joint } from '../files/rig.js'
import { Chain } from './chain.js'
import { cross } from './pose.js'

export class Extremities {
  /** m, three numbers a point, after `at`: the joints' origins, the blade's centre and its four corners */
  readonly points: Float64Array
  /** Index in `points` of the blade's centre, with which the blade begins. */
  readonly blade: number
  readonly #chain: Chain
  /** m, blade frame: the blade's centre and its corners */
  readonly #corners: readonly (readonly number[])[]

  /** @param joints the arm's own, from base to tip */
  constructor(arm: Pick<Arm, 'base' | 'tool' | 'paddle'>, joints: readonly Joint[]) {
    this.#chain = new Chain(arm, joints)
    const { normal, shaft } = arm.tool
    const along = shaft.map((x) => (x * arm.paddle.length) / 2)
    const across = cross(normal, shaft).map((x) => (x * arm.paddle.width) / 2)
    const corners = [1, -1].flatMap((a) =>
      [1, -1].map((b) => [0, 1, 2].map((i) => a * along[i]! + b * across[i]!)),
    )
    this.#corners = [[0, 0, 0], ...corners]
    this.blade = 3 * joints.length
    this.points = new Float64Array(3 * (joints.length + this.#corners.length))
  }

  /** Works out `points` at joint positions `q` (rad, the arm's own joints). */
  at(q: Float64Array): void {
    const chain = this.#chain
    const points = this.points
    chain.forward(q)
    points.set(chain.origins)
    const t = chain.blade
    let p = this.blade
    for (const c of this.#corners) {
      for (let i = 0; i < 3; i++)
        points[p++] = t[9 + i]! + t[3 * i]! * c[0]! + t[3 * i + 1]! * c[1]! + t[3 * i + 2]! * c[2]!
    }
  }
}
