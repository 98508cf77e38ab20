/**
 * What a joint's feedback is like, when it is not like the joint: of the last second of feedback and of what it should have been (true
 * positions, or setpoints) the simplest explanation that holds for all of it.
 *
 * Of a joint that moves, in this order: the counts are another joint's (read by its binding they are where that joint is); the sign is wrong;
 * the scale is wrong; it is off by whole turns, or by an angle. Where nothing moves, scale and angle cannot be told apart: a wrong sign and
 * whole turns come first then, and after other joints known ratios are tried; what is left is said to be either.
 */
import type { Joint } from '../files/rig.js'
import { toRadians } from '../wire/cia402/scale.js'
import { wholeTurns } from './counts-jump.js'
import { lineFit } from './line-fit.js'

export type Cause =
  | { readonly kind: 'partner'; readonly partner: number }
  /** Feedback = ratio x what it should be + offset. */
  | { readonly kind: 'sign' | 'scale'; readonly ratio: number }
  | { readonly kind: 'turns' | 'offset'; readonly offset: number; readonly turns: number }
  /** At rest: either. */
  | { readonly kind: 'scale or offset'; readonly ratio: number; readonly offset: number }

/** One joint's feedback and what each joint should be at, oldest first, all of one length (rad). */
export interface Evidence {
  readonly feedback: Float64Array
  /** [joint] */
  readonly meant: readonly Float64Array[]
}

export interface Bounds {
  /** rad, how far an explanation may be off anywhere */
  readonly tolerance: number
  /** rad, motion without which nothing is said of slopes */
  readonly motion: number
  /** Samples by which feedback may be late. */
  readonly lags: number
  /** May a joint at rest be explained too? Not where a joint that stands still is the fault itself. */
  readonly atRest: boolean
}

/** Ratios that mistakes of units and of counts make, for joints at rest. */
const RATIOS: readonly number[] = [180 / Math.PI, 2 * Math.PI, 360, 2, 4, 8, 16, 10, 100, 1000]
/** Part by which a slope may be off one, or minus one, and still be it. */
const SLOPE = 0.05
/** Part of its own range that feedback may be off an explanation: what hardly moves is not explained by a line that hardly rises. */
const PART = 1 / 8
/** Part of `motion` that another joint must have made to be told by following it, and of its range that the match may be off. */
const PARTNER_MOTION = 1 / 4
const PARTNER_PART = 1 / 4
/** At rest nothing is late, and an explanation must fit so much better. */
const REST = 1 / 5
/** Another joint must have been farther away than this many tolerances, or it is no explanation. */
const APART = 4

/** @returns null: nothing simple fits */
export function likeness(
  joints: readonly Joint[],
  j: number,
  evidence: Evidence,
  bounds: Bounds,
): Cause | null {
  const own = evidence.meant[j]!
  const { tolerance, motion } = bounds
  let best: Cause | null = null
  let least = 1
  let moved = false
  for (let lag = 0; lag <= bounds.lags; lag++) {
    const { slope, offset, worst, spanX, spanY } = lineFit(own, evidence.feedback, lag)
    if (spanX < motion) continue
    moved = true
    // Feedback that stands while the joint moves is like nothing.
    if (spanY * RATIOS[0]! < motion) continue
    const off = worst / Math.min(tolerance * Math.max(1, Math.abs(slope)), PART * spanY)
    if (off >= least) continue
    least = off
    best = sloped(slope, offset, tolerance)
  }
  const still =
    moved || !bounds.atRest ? null : resting(own.at(-1)!, evidence.feedback.at(-1)!, REST * tolerance)
  // Two arms may rest like mirror images, and then a wrong sign reads as the other arm's joint.
  if (still?.kind === 'sign' || still?.kind === 'turns') return still
  const partner = partnerOf(joints, j, evidence, bounds)
  return partner >= 0 ? { kind: 'partner', partner } : (still ?? best)
}

function sloped(slope: number, offset: number, tolerance: number): Cause | null {
  if (Math.abs(slope + 1) <= SLOPE) return { kind: 'sign', ratio: slope }
  if (Math.abs(slope - 1) > SLOPE) return { kind: 'scale', ratio: slope }
  return off(offset, tolerance)
}

function resting(meant: number, found: number, tolerance: number): Cause | null {
  const turned = off(found - meant, tolerance)
  if (turned === null || turned.kind === 'turns') return turned
  if (Math.abs(meant) > APART * tolerance) {
    if (Math.abs(found + meant) <= tolerance) return { kind: 'sign', ratio: -1 }
    const ratio = RATIOS.flatMap((r) => [r, 1 / r, -r, -1 / r]).find(
      (r) =>
        Math.abs(found - r * meant) <= tolerance * Math.max(1, Math.abs(r)) && Math.abs(found) > tolerance,
    )
    if (ratio !== undefined) return { kind: 'scale', ratio }
  }
  return { kind: 'scale or offset', ratio: found / meant, offset: found - meant }
}

function off(offset: number, tolerance: number): Extract<Cause, { kind: 'turns' | 'offset' }> | null {
  if (Math.abs(offset) <= tolerance) return null
  const turns = wholeTurns(offset, tolerance)
  return { kind: turns === 0 ? 'offset' : 'turns', offset, turns }
}

/** The joint whose encoder this is: read by its binding, the counts are where that joint is. -1: none. */
export function partnerOf(
  joints: readonly Joint[],
  j: number,
  { feedback, meant }: Evidence,
  b: Bounds,
): number {
  const n = feedback.length
  const own = meant[j]!
  for (const { index: i, wire } of joints) {
    if (i === j) continue
    const its = meant[i]!
    const read = feedback.map((q) => toRadians(wire, countsOf(joints[j]!, q)))
    for (let lag = 0; lag <= b.lags && lag < n; lag++) {
      let worst = 0
      let apart = 0
      let [low, high] = [Infinity, -Infinity]
      for (let k = lag; k < n; k++) {
        const x = its[k - lag]!
        worst = Math.max(worst, Math.abs(read[k]! - x))
        apart = Math.max(apart, Math.abs(feedback[k]! - own[k - lag]!))
        low = Math.min(low, x)
        high = Math.max(high, x)
      }
      const range = high - low
      const moves = range >= PARTNER_MOTION * b.motion
      if (!moves && !b.atRest) continue
      const within = moves ? Math.min(b.tolerance, PARTNER_PART * range) : b.tolerance
      if (worst <= within && apart > APART * b.tolerance) return i
    }
  }
  return -1
}

/** Counts that a position was read from; they need not be whole. */
function countsOf({ wire }: Joint, position: number): number {
  return wire.sign * position * wire.countsPerRadian + wire.zero
}
