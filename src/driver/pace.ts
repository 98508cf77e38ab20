/**
 * The rig's speed cap as the driver keeps it: the blade's path stays, the phase slows until no joint exceeds its share.
 *
 * Worked out once, from the joints' slopes over the stroke: the greatest phase rate at each phase, lowered ahead of steep
 * places by what the joints can decelerate, as time-optimal path tracking does it (J. E. Bobrow, S. Dubowsky, J. S. Gibson,
 * Int. J. Robotics Research 4(3):3-17, 1985: one pass forward and one back under acceleration limits). Rates well below it
 * are not touched. Both sides slow together, so that the craft's way stays what it was.
 */
import type { Rig } from '../files/rig.js'
import type { BladePath, StrokePlace } from '../motion/blade.js'
import type { InverseKinematics } from '../motion/ik.js'
import { POSE } from '../motion/pose.js'
import { PEAK_SPEED } from '../motion/quintic.js'
import { PARK_PHASE } from '../motion/stroke.js'
import { jointsOf, PARKED } from './posture.js'

/** Phase steps of the table. */
const STEPS = 720
/** Part of the cap that the table uses: between its places, and while the stroke's length changes, a little more is needed. */
const MARGIN = 0.97
/** Parts of the joints' acceleration limits: for bends of the path, and for slowing down and speeding up along it. */
const BEND = 0.4
const ALONG = 0.25
/** Places by which the table is smoothed to each side, twice. */
const SMOOTH = 6
/** Shares of the stroke's length that are looked at where sides are coupled. */
const LENGTHS = [1, 0.75, 0.5, 0.25]
/** Phases from which lifting and carrying are tried, and steps of each. */
const LIFTS = 24
const LIFT_STEPS = 40
/** Below this share of the greatest rate nothing is slowed. */
const FREE = 0.8
/** The norm that joins the two sides: near to the greater one, without a corner where they change places. */
const NORM = 32

type ArmPath = { readonly path: BladePath; readonly ik: InverseKinematics; readonly park: Float64Array }

/** What the cap leaves of one side's motion. */
export interface SidePace {
  /** 1/s, greatest phase rate from phase i / STEPS */
  readonly rates: Float64Array
  /** s, shortest times for lifting and carrying */
  readonly liftTime: number
  readonly carryTime: number
}

/** @param arms of the side, each in rig order with its own inverse kinematics; what these solved last is overwritten */
export function sidePace(
  rig: Rig,
  arms: readonly (ArmPath & { readonly arm: Rig['arms'][number] })[],
): SidePace {
  const lengths = rig.stroke.sides === 'free' ? [1] : LENGTHS
  const rates = new Float64Array(STEPS).fill(Number.POSITIVE_INFINITY)
  let liftTime = 0
  let carryTime = 0
  for (const arm of arms) {
    const joints = jointsOf(rig, arm.arm)
    const speeds = joints.map((j) => MARGIN * rig.motion.speedCap * j.limits.speed)
    for (const reach of lengths) {
      const poses = walk(arm, { ...PARKED, reach }, STEPS, (place, i) => ({
        ...place,
        phase: (PARK_PHASE + i / STEPS) % 1,
      }))
      const own = greatestRates(
        poses,
        joints.map((j) => j.limits.acceleration),
        speeds,
      )
      own.forEach((rate, i) => {
        // The walk begins at the park place.
        const at = (i + Math.round(PARK_PHASE * STEPS)) % STEPS
        rates[at] = Math.min(rates[at]!, rate)
      })
      for (let i = 0; i < STEPS; i += STEPS / LIFTS) {
        const place = { ...PARKED, reach, phase: (PARK_PHASE + i / STEPS) % 1 }
        const from = { ...arm, park: poses[i]! }
        const lift = walk(from, place, LIFT_STEPS, (p, k) => ({ ...p, lift: k / LIFT_STEPS }))
        const up = { ...arm, park: lift.at(-1)! }
        const carry = walk(up, { ...place, lift: 1 }, LIFT_STEPS, (p, k) => ({ ...p, carry: k / LIFT_STEPS }))
        liftTime = Math.max(liftTime, shortest(lift, speeds))
        carryTime = Math.max(carryTime, shortest(carry, speeds))
      }
    }
  }
  return { rates: smoothed(rates), liftTime, carryTime }
}

/** Joint positions (rad) along a walk of `steps` steps, its beginning first; where the arm cannot go it stays. */
function walk(
  { path, ik, park }: ArmPath,
  from: StrokePlace,
  steps: number,
  at: (from: StrokePlace, i: number) => StrokePlace,
): Float64Array[] {
  const target = new Float64Array(POSE)
  const q = park.slice()
  return Array.from({ length: steps + 1 }, (_, i) => {
    path.pose(at(from, i), target)
    const before = q.slice()
    if (ik.solve(target, q) === 'no-solution') q.set(before)
    return q.slice()
  })
}

/** 1/s at each of the walk's places, once round. */
function greatestRates(
  poses: readonly Float64Array[],
  accelerations: readonly number[],
  speeds: readonly number[],
): Float64Array {
  const n = STEPS
  const squares = new Float64Array(n)
  const along = new Float64Array(n)
  for (let i = 0; i < n; i++) {
    const [before, here, after] = [poses[(i + n - 1) % n]!, poses[i]!, poses[i + 1]!]
    let rate = Number.POSITIVE_INFINITY
    let room = Number.POSITIVE_INFINITY
    for (let j = 0; j < here.length; j++) {
      // The steeper of the two sides: between places it is never steeper than at one of its neighbours.
      const slope = n * Math.max(Math.abs(after[j]! - here[j]!), Math.abs(here[j]! - before[j]!))
      const bend = n * n * Math.abs(after[j]! - 2 * here[j]! + before[j]!)
      rate = Math.min(rate, speeds[j]! / slope, Math.sqrt((BEND * accelerations[j]!) / bend))
      room = Math.min(room, (ALONG * accelerations[j]!) / slope)
    }
    squares[i] = rate * rate
    along[i] = room
  }
  // Twice round, as the path is closed: what the first round leaves at its end the second one takes up.
  for (let i = 0; i < 2 * n; i++) {
    const [a, b] = [i % n, (i + 1) % n]
    squares[b] = Math.min(squares[b]!, squares[a]! + (2 * along[a]!) / n)
  }
  for (let i = 2 * n; i > 0; i--) {
    const [a, b] = [i % n, (i - 1) % n]
    squares[b] = Math.min(squares[b]!, squares[a]! + (2 * along[a]!) / n)
  }
  return squares.map(Math.sqrt)
}

/** Two moving means over the least of their neighbours: never above what was given. */
function smoothed(rates: Float64Array): Float64Array {
  const n = rates.length
  const around = (from: Float64Array, radius: number, take: (all: number[]) => number): Float64Array =>
    from.map((_, i) =>
      take(Array.from({ length: 2 * radius + 1 }, (_, k) => from[(i + k - radius + n) % n]!)),
    )
  const mean = (all: number[]): number => all.reduce((sum, x) => sum + x, 0) / all.length
  const least = around(rates, 2 * SMOOTH, (all) => Math.min(...all))
  return around(around(least, SMOOTH, mean), SMOOTH, mean)
}

/** s in which a quintic along the walk keeps the speeds. */
function shortest(poses: readonly Float64Array[], speeds: readonly number[]): number {
  let time = 0
  for (let i = 1; i < poses.length; i++) {
    for (let j = 0; j < speeds.length; j++) {
      const slope = (poses.length - 1) * Math.abs(poses[i]![j]! - poses[i - 1]![j]!)
      time = Math.max(time, (PEAK_SPEED * slope) / speeds[j]!)
    }
  }
  return time
}

/** How many times the greatest rate is asked for at a phase, by one side. @param rate 1/s, without sign */
export function demand({ rates }: Pick<SidePace, 'rates'>, phase: number, rate: number): number {
  const x = phase * STEPS
  const i = Math.floor(x)
  const here = rates[i % STEPS]!
  return rate / (here + (x - i) * (rates[(i + 1) % STEPS]! - here))
}

/** Share of both sides' rates that is left, from what each demands: 1 well below the cap. */
export function shareLeft(port: number, starboard: number): number {
  const most = Math.max(port, starboard)
  if (most === 0) return 1
  const least = Math.min(port, starboard)
  const both = most * (1 + (least / most) ** NORM) ** (1 / NORM)
  return kept(both) / both
}

/** The demand itself up to FREE, at most 1, and C2 in between: its slope falls from 1 to 0 by a quintic. */
function kept(x: number): number {
  const width = 2 * (1 - FREE)
  const t = (x - FREE) / width
  if (t <= 0) return x
  if (t >= 1) return 1
  const area = t ** 4 * (2.5 + t * (t - 3))
  return FREE + width * (t - area)
}
