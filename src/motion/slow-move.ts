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
import { Chain } from './chain.js'
import { cross } from './pose.js'
import { PEAK_ACCELERATION, PEAK_SPEED, quintic } from './quintic.js'

/** Pieces of the movement; at each border the speeds are worked out. */
const PIECES = 1000

/** The ends of an arm's links and the corners of its blade, in the craft frame. */
class Extremities {
  /** m, three numbers a point, after `at` */
  readonly points: Float64Array
  readonly #chain: Chain
  /** m, blade frame, from the blade's centre */
  readonly #corners: readonly (readonly [number, number, number])[]

  constructor(arm: Pick<Arm, 'base' | 'tool' | 'paddle'>, joints: readonly Joint[]) {
    this.#chain = new Chain(arm, joints)
    const { normal, shaft } = arm.tool
    const along = shaft.map((x) => (x * arm.paddle.length) / 2)
    const across = cross(normal, shaft).map((x) => (x * arm.paddle.width) / 2)
    this.#corners = [1, -1].flatMap((a) =>
      [1, -1].map(
        (b) =>
          [0, 1, 2].map((i) => a * along[i]! + b * across[i]!) as unknown as readonly [
            number,
            number,
            number,
          ],
      ),
    )
    this.points = new Float64Array(3 * (joints.length + 1 + this.#corners.length))
  }

  /** Works out `points` at joint positions `q` (rad, the arm's own joints). */
  at(q: Float64Array): void {
    const chain = this.#chain
    const points = this.points
    chain.forward(q)
    points.set(chain.origins)
    const t = chain.blade
    let p = 3 * chain.n
    for (const c of [CENTRE, ...this.#corners]) {
      for (let i = 0; i < 3; i++)
        points[p++] = t[9 + i]! + t[3 * i]! * c[0] + t[3 * i + 1]! * c[1] + t[3 * i + 2]! * c[2]
    }
  }
}

const CENTRE = [0, 0, 0] as const

/**
 * @param from rad, all joints of the rig; @param to rad; @param speed m/s
 * @returns s; 0 when nothing moves
 */
export function slowTime(
  rig: Pick<Rig, 'arms' | 'joints'>,
  from: Float64Array,
  to: Float64Array,
  speed: number,
): number {
  return Math.max(
    0,
    ...rig.arms.map((arm) => {
      const joints = arm.joints.map((i) => rig.joints[i]!)
      const own = (q: Float64Array): Float64Array => Float64Array.from(arm.joints, (i) => q[i]!)
      return peakSpeed(arm, joints, own(from), own(to)) / speed
    }),
  )
}

/** m: greatest speed of any point, times the time that the movement takes. */
function peakSpeed(arm: Arm, joints: readonly Joint[], from: Float64Array, to: Float64Array): number {
  const way = from.map((a, i) => to[i]! - a)
  if (way.every((d) => d === 0)) return 0
  const lengths = [...joints.slice(1).map((j) => Math.hypot(...j.origin.at)), bladeReach(arm)]
  // A point moves at most as its joints turn times its distance from them: at most all links that lie between, stretched out.
  let [turn, sweep] = [0, 0]
  way.forEach((d, i) => {
    turn += Math.abs(d)
    sweep += Math.abs(d) * lengths.slice(i).reduce((sum, l) => sum + l, 0)
  })
  const extremities = new Extremities(arm, joints)
  const points = extremities.points
  const before = new Float64Array(points.length)
  const q = new Float64Array(from.length)
  const place = (u: number): void => {
    const s = quintic(u)
    for (let i = 0; i < q.length; i++) q[i] = from[i]! + s * way[i]!
    extremities.at(q)
  }
  // Over a piece a point's mean speed is its chord; the greatest is above that by no more than its slope over the piece.
  const slope = sweep * turn * PEAK_SPEED * PEAK_SPEED + sweep * PEAK_ACCELERATION
  let most = 0
  place(0)
  for (let k = 1; k <= PIECES; k++) {
    before.set(points)
    place(k / PIECES)
    for (let p = 0; p < points.length; p += 3) {
      const chord = Math.hypot(
        points[p]! - before[p]!,
        points[p + 1]! - before[p + 1]!,
        points[p + 2]! - before[p + 2]!,
      )
      if (chord > most) most = chord
    }
  }
  return most * PIECES + slope / PIECES
}

/** m, from the last joint to the farthest corner of the blade, at most. */
function bladeReach({ tool, paddle }: Arm): number {
  return Math.hypot(...tool.pose.at) + Math.hypot(paddle.length, paddle.width) / 2
}
