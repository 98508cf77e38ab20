/** How near the arms come to each other, themselves and the volumes on steady strokes: of speed it does not depend. */
import type { ClearanceSettings, Rig, Side } from '../../files/rig.js'
import { type ArmPath, nearestAnywhere } from '../../motion/clearance/any-phases.js'
import { ClearanceSweep } from '../../motion/clearance/sweep.js'
import type { NearestApproach, Way } from '../../motion/envelope.js'
import type { SideLimits } from './side-limits.js'
import { STEPS } from './stroke-poses.js'

/** Share of a distance beyond the warning to which the least is found. */
const COARSE = 0.02

/** How a side strokes. */
export interface Stroking {
  readonly side: Side
  readonly way: Way
  readonly reach: number
}

export class StrokeDistances {
  readonly #rig: Rig & { readonly clearance: ClearanceSettings }
  readonly #sides: SideLimits
  readonly #known = new Map<string, NearestApproach | null>()

  constructor(rig: Rig & { readonly clearance: ClearanceSettings }, sides: SideLimits) {
    this.#rig = rig
    this.#sides = sides
  }

  /** All that were looked at. */
  get approaches(): NearestApproach[] {
    return [...this.#known.values()].filter((a) => a !== null)
  }

  /**
   * @param stroking one side or both, all of which reach their strokes; other arms are parked
   * @returns null: there is nothing to come near to
   */
  nearest(stroking: readonly Stroking[]): NearestApproach | null {
    const alike = stroking.map((s) => ({ ...s, way: this.#wayOf(s) }))
    // In step it matters whether both go one way.
    const together = this.#rig.stroke.sides !== 'free' && new Set(stroking.map(({ way }) => way)).size
    const key = `${together} ${alike.map(({ side, way, reach }) => `${side} ${way} ${reach.toFixed(6)}`).join()}`
    const before = this.#known.get(key)
    if (before !== undefined) return before
    const sides = stroking.map(({ side }) => side)
    const apart = this.#rig.stroke.sides === 'free'
    const alone = apart ? least(alike.map((s) => this.#swept([s]))) : this.#swept(stroking)
    const nearest = apart ? least([alone, this.#anywhere(alike, alone?.distance)]) : alone
    const told = nearest === null ? null : { ...nearest, sides }
    this.#known.set(key, told)
    return told
  }

  /** Backwards the same stroke has the same poses, unless there are joints to spare. */
  #wayOf({ side, way }: Stroking): Way {
    const spare = this.#rig.arms.some((a) => a.side === side && a.tool.constrained.length < a.joints.length)
    return spare ? way : 'ahead'
  }

  /** One stroke, both sides in step where both stroke. */
  #swept(stroking: readonly Stroking[]): Found | null {
    const rig = this.#rig
    const sweep = new ClearanceSweep(rig, rig.clearance.warn, COARSE)
    const q = this.#parked()
    for (let k = 0; k <= STEPS; k++) {
      for (const s of stroking) this.#pose(s, (this.#stepOf(s, k / STEPS, stroking[0]!) + STEPS) % STEPS, q)
      if (k === 0) sweep.start(q, 0)
      else sweep.move(q, k)
    }
    return least(
      sweep.groups.map((_, g) => {
        const near = sweep.nearest(g)
        return near && { distance: near.distance, between: [near.first, near.second] as const }
      }),
    )
  }

  /** Where a side is in its stroke while the first one is at `phase`; see motion/sides.ts. */
  #stepOf(s: Stroking, phase: number, first: Stroking): number {
    if (s === first) return Math.round(phase * STEPS) % STEPS
    const apart = this.#rig.stroke.sides === 'alternating' ? 0.5 : 0
    // An astern stroke runs backwards about the middle of the drive.
    const seen = (way: Way, p: number): number => (way === 'astern' ? 0.5 - p : p)
    const own = seen(s.way, seen(first.way, phase) + apart)
    return Math.round((own - Math.floor(own)) * STEPS) % STEPS
  }

  /** Two sides at cadences of their own meet in every pair of places some time. @param below m: only what is nearer is of interest */
  #anywhere(stroking: readonly Stroking[], below: number | undefined): Found | null {
    const [one, other] = stroking
    if (one === undefined || other === undefined) return null
    const rig = this.#rig
    const armsOf = (s: Stroking) =>
      rig.arms.filter((arm) => arm.side === s.side).map((arm) => ({ arm: arm.index, path: this.#path(s) }))
    const pairs = armsOf(one).flatMap((a) => armsOf(other).map((b) => [a, b] as const))
    return least(pairs.map(([a, b]) => nearestAnywhere(rig, a, b, rig.clearance.least, below)))
  }

  #path(s: Stroking): ArmPath {
    return Array.from({ length: STEPS }, (_, i) => {
      const q = this.#parked()
      this.#pose(s, i, q)
      return q
    })
  }

  /** rad, all joints of the rig. */
  #parked(): Float64Array {
    const q = new Float64Array(this.#rig.joints.length)
    for (const arm of this.#rig.arms)
      arm.joints.forEach((j, k) => {
        q[j] = this.#sides.parked(arm.index)?.[k] ?? 0
      })
    return q
  }

  #pose({ side, way, reach }: Stroking, step: number, q: Float64Array): void {
    for (const { arm, poses } of this.#sides.stroke(side, way, reach).strokes) {
      const { joints } = this.#rig.arms[arm]!
      joints.forEach((j, k) => {
        q[j] = poses[step * joints.length + k]!
      })
    }
  }
}

type Found = Pick<NearestApproach, 'distance' | 'between'>

function least(found: readonly (Found | null)[]): Found | null {
  return found.reduce((a, b) => (a === null || (b !== null && b.distance < a.distance) ? b : a), null)
}
