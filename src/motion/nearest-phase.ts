/** Where in its stroke a blade is that nobody has told of: the phase whose place is the nearest to that of the blade's centre. */
import type { Arm, Rig } from '../files/rig.js'
import { BladePath, type StrokePlace, strokeShape } from './blade.js'
import { POSE } from './pose.js'

/** Phases tried. */
const STEPS = 1000

export interface NearPhase {
  /** [0, 1), to a thousandth */
  readonly phase: number
  /** m, from the blade's centre to the whole stroke's path there: a shortened stroke, or the way to the park place, lies off it */
  readonly off: number
}

/** @param blade T_craft_blade */
export function nearestPhase(
  { stroke, craft, arms }: Pick<Rig, 'stroke' | 'craft' | 'arms'>,
  arm: Arm,
  blade: Float64Array,
): NearPhase {
  const shape = strokeShape(
    stroke,
    arms.map(({ paddle }) => paddle),
  )
  const path = new BladePath(shape, stroke, craft, arm)
  const there = new Float64Array(POSE)
  let best = { phase: 0, off: Number.POSITIVE_INFINITY }
  for (let i = 0; i < STEPS; i++) {
    const place: StrokePlace = { phase: i / STEPS, reach: 1, lift: 0, carry: 0 }
    path.pose(place, there)
    const off = Math.hypot(there[9]! - blade[9]!, there[10]! - blade[10]!, there[11]! - blade[11]!)
    if (off < best.off) best = { phase: place.phase, off }
  }
  return best
}
