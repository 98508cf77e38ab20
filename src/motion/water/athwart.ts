/**
 * How far the mass of an arm can go athwart, within the ranges of its joints and whatever stands in its way there.
 *
 * With all joints but one at rest, the moment of the arm's mass about the centreline is A + B cos q + C sin q of that one, as every
 * mass goes round its axis: its top within a range is known in closed form. Joint after joint is put there until nothing is gained
 * any more. As there may be several such tops, this is begun at many places, spread evenly over the ranges by multiples of the
 * golden ratio.
 */
import type { Arm } from '../../files/rig.js'
import { Dynamics } from '../dynamics.js'
import type { WeighedJoint } from '../laden-arm.js'
import { Links } from '../links.js'
import { paddleBody } from '../paddle-body.js'
import type { ArmMass } from './heel.js'

const STARTS = 64
const GOLDEN = (Math.sqrt(5) - 1) / 2
/** Rounds over all joints of one start: far more than it takes. */
const MOST_ROUNDS = 200
/** Gain of a round, as a share of what there is, below which it ends. */
const LEAST_GAIN = 1e-9
const TURN = 2 * Math.PI

/** kg m: the moment of the arm's mass about the craft's x axis, outboard + */
type Moment = (q: Float64Array) => number

/**
 * @param own the arm's joints, from base to tip
 * @param upright rad, one a joint: where the arm is when the craft floats upright
 */
export function armMass(arm: Arm, own: readonly WeighedJoint[], upright: Float64Array): ArmMass {
  const moment = momentOf(arm, own)
  const here = moment(upright)
  const mass = own.reduce((sum, { body }) => sum + body.mass, arm.paddle.mass)
  return {
    side: arm.side,
    mass,
    outboard: (farthest(moment, own, upright, 1) - here) / mass,
    inboard: (farthest(moment, own, upright, -1) + here) / mass,
  }
}

/** Potential energy in a field of 1 m/s2 to inboard, which is zero with all mass on the centreline. */
function momentOf(arm: Arm, own: readonly WeighedJoint[]): Moment {
  const trains = own.map(({ train }) => train)
  const bodies = own.map(({ body }) => body)
  const dynamics = new Dynamics(new Links(arm, own, bodies, trains, paddleBody(arm.paddle, arm.tool)))
  dynamics.gravity = [0, arm.side === 'port' ? -1 : 1, 0]
  const rest = new Float64Array(own.length)
  const energy = new Float64Array(2)
  return (q) => {
    dynamics.energy(q, rest, energy)
    return energy[1]!
  }
}

/** The greatest of `way` times the moment. */
function farthest(moment: Moment, own: readonly WeighedJoint[], upright: Float64Array, way: 1 | -1): number {
  const q = upright.slice()
  let most = climb(moment, own, q, way)
  for (let s = 1; s < STARTS; s++) {
    own.forEach(({ limits: { lower, upper } }, j) => {
      q[j] = lower + (upper - lower) * ((s * (j + 1) * GOLDEN) % 1)
    })
    most = Math.max(most, climb(moment, own, q, way))
  }
  return most
}

/** To the top above `q`, which goes there. */
function climb(moment: Moment, own: readonly WeighedJoint[], q: Float64Array, way: 1 | -1): number {
  let top = way * moment(q)
  for (let round = 0; round < MOST_ROUNDS; round++) {
    const before = top
    for (let j = 0; j < q.length; j++) {
      const { lower, upper } = own[j]!.limits
      const from = q[j]!
      const at = (angle: number): number => {
        q[j] = angle
        return way * moment(q)
      }
      // A + B cos + C sin of the angle from here on, where it is the top of before: A + B.
      const [quarter, half] = [at(from + TURN / 4), at(from + TURN / 2)]
      const A = (top + half) / 2
      const [B, C] = [(top - half) / 2, quarter - A]
      const gain = (angle: number): number => B * (Math.cos(angle - from) - 1) + C * Math.sin(angle - from)
      const crest = from + Math.atan2(C, B)
      const inRange = crest + TURN * Math.ceil((lower - crest) / TURN)
      let best = from
      for (const angle of inRange <= upper ? [lower, upper, inRange] : [lower, upper])
        if (gain(angle) > gain(best)) best = angle
      top = at(best)
    }
    if (top - before <= LEAST_GAIN * Math.abs(top)) break
  }
  return top
}
