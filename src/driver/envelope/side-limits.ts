/** How fast each side may go on its own account: the limits of a differential drive's side depend on that side's speed alone. */
import { DrystrokeError } from '../../errors.js'
import type { Rig, Side } from '../../files/rig.js'
import { MOST_SURGE, MOST_YAW } from '../../files/scenario-schema.js'
import type { Limit, SideLimit, Strain, Way } from '../../motion/envelope.js'
import { firstBeyond } from '../../motion/first-beyond.js'
import { parseQuantity, showBeside, showQuantity } from '../../units.js'
import { kinematicsOf, parkPosture } from '../posture.js'
import { type Strokes, strokesOf } from '../strokes.js'
import { type ArmStroke, type NotReached, strokePoses } from './stroke-poses.js'
import { StrokeStrain } from './stroke-strain.js'

/** m/s: step of the scan for the first limit. */
const SCAN = 0.05
/** A share below this is that of the boundary, but for the last halving. */
const AT_LIMIT = 1.001

type Parked = ArmStroke | { readonly arm: ArmStroke['arm']; readonly reason: string }

/** How one side strokes: the poses of its arms, or why not. */
export interface SideStroke {
  readonly strokes: readonly {
    readonly arm: number
    readonly poses: Float64Array
    readonly strain: StrokeStrain
  }[]
  readonly notReached: Limit | null
}

export class SideLimits {
  readonly #rig: Rig
  readonly #strokes: Strokes
  readonly #arms: readonly Parked[]
  readonly #known = new Map<string, SideStroke>()
  readonly #limits = new Map<string, SideLimit>()

  constructor(rig: Rig) {
    this.#rig = rig
    this.#strokes = strokesOf(rig)
    this.#arms = rig.arms.map((arm, i) => {
      const ik = kinematicsOf(rig, arm)
      const path = this.#strokes.paths[i]!
      try {
        return { arm, path, ik, park: parkPosture(rig, arm, path, ik) }
      } catch (error) {
        if (!(error instanceof DrystrokeError) || error.code !== 'unreachable') throw error
        return { arm, reason: error.message }
      }
    })
  }

  has(side: Side): boolean {
    return this.#arms.some(({ arm }) => arm.side === side)
  }

  /** rad, the arm's own joints where it is parked; null: it cannot be */
  parked(arm: number): Float64Array | null {
    const state = this.#arms[arm]!
    return 'park' in state ? state.park : null
  }

  /** @param reach 0..1, share of the stroke's length */
  stroke(side: Side, way: Way, reach: number): SideStroke {
    return remembered(this.#known, `${side} ${way} ${reach.toFixed(6)}`, () => this.#stroke(side, way, reach))
  }

  #stroke(side: Side, way: Way, reach: number): SideStroke {
    const rig = this.#rig
    const strokes = []
    for (const state of this.#arms) {
      const { arm } = state
      if (arm.side !== side) continue
      const poses: Float64Array | NotReached =
        'reason' in state ? { phase: Number.NaN, reason: state.reason } : strokePoses(rig, state, reach, way)
      if (!('park' in state) || !(poses instanceof Float64Array)) {
        const { phase, reason } = poses as NotReached
        const limit = {
          item: 'reach',
          side,
          place: arm.name,
          phase: Number.isNaN(phase) ? null : phase,
        } as const
        return { strokes: [], notReached: { ...limit, says: reason } }
      }
      strokes.push({
        arm: arm.index,
        poses,
        strain: new StrokeStrain(rig, state, poses, this.#strokes.side, way),
      })
    }
    return { strokes, notReached: null }
  }

  /** @param reach 0..1, share of the stroke's length */
  limit(side: Side, way: Way, reach: number): SideLimit {
    return remembered(this.#limits, `${side} ${way} ${reach.toFixed(6)}`, () => this.#limit(side, way, reach))
  }

  #limit(side: Side, way: Way, reach: number): SideLimit {
    const { strokes, notReached } = this.stroke(side, way, reach)
    const none = { side, way, reach, speed: 0, limit: notReached, cadence: 0, strains: [] }
    if (notReached) return none
    const gain = (1 + this.#rig.driver.slip) / reach
    const share = (speed: number): number =>
      Math.max(...strokes.map(({ strain }) => strain.at(gain * speed, null)))
    const speed = firstBeyond(share, SCAN * reach, fastestSide(this.#rig))
    // At nothing at all the phase has no rate.
    const told = Number.isFinite(speed) ? Math.max(speed, 1e-6 * SCAN * reach) : fastestSide(this.#rig)
    share(told)
    const strains = worstOf(strokes.flatMap(({ strain }) => strain.strains))
    const most = strains.reduce((a, b) => (b.share > a.share ? b : a))
    const cadence = speed === 0 ? 0 : strokes[0]!.strain.cadence
    const limit = Number.isFinite(speed) ? limitOf(side, most) : null
    return { ...none, speed, limit, cadence, strains: speed === Number.POSITIVE_INFINITY ? [] : strains }
  }
}

/** m/s: no command asks more of a side. */
function fastestSide({ craft }: Rig): number {
  return parseQuantity(MOST_SURGE, 'speed') + (parseQuantity(MOST_YAW, 'angular speed') * craft.track) / 2
}

function limitOf(side: Side, { item, joint, phase, value, limit, unit, share }: Strain): Limit {
  const [shown, beside] = showBeside(value, limit, unit)
  // On the boundary itself value and limit are one; what is too much even at a crawl has a value of its own.
  const says = share < AT_LIMIT ? `limit ${showQuantity(limit, unit)}` : `${shown} of ${beside}`
  return { item, side, place: joint, phase, says }
}

/** The most of each kind. */
function worstOf(strains: readonly Strain[]): Strain[] {
  const worst = new Map<string, Strain>()
  for (const s of strains) if ((worst.get(s.item)?.share ?? 0) < s.share) worst.set(s.item, s)
  return [...worst.values()]
}

function remembered<T>(known: Map<string, T>, key: string, work: () => T): T {
  const before = known.get(key)
  if (before !== undefined) return before
  const now = work()
  known.set(key, now)
  return now
}
