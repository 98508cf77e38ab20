/** How fast each side may go on its own account: the limits of a differential drive's side depend on that side's speed alone. */
import { DrystrokeError } from '../../errors.js'
import { lacksAfloat } from '../../files/afloat-complaints.js'
import type { Rig, Side } from '../../files/rig.js'
import { MOST_SURGE, MOST_YAW } from '../../files/scenario-schema.js'
import type { InWater, Limit, SideLimit, Strain, Way } from '../../motion/envelope.js'
import { firstBeyond } from '../../motion/first-beyond.js'
import { waterOf } from '../../motion/water/properties.js'
import { parseQuantity, showBeside, showQuantity } from '../../units.js'
import { kinematicsOf, parkPosture } from '../posture.js'
import { type Strokes, strokesOf } from '../strokes.js'
import { BladeInWater } from './blade-in-water.js'
import { StrokePace } from './stroke-pace.js'
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
    /** null: the rig does not say what a craft afloat takes */
    readonly blade: BladeInWater | null
  }[]
  readonly notReached: Limit | null
}

export class SideLimits {
  /** Of whichever stroke was looked at last. */
  readonly pace: StrokePace
  readonly #rig: Rig
  readonly #strokes: Strokes
  readonly #arms: readonly Parked[]
  readonly #water
  readonly #known = new Map<string, SideStroke>()
  readonly #limits = new Map<string, SideLimit>()

  constructor(rig: Rig) {
    this.#rig = rig
    this.#strokes = strokesOf(rig)
    const { shape, cadence } = this.#strokes.side
    this.pace = new StrokePace(shape, cadence)
    this.#water = rig.water !== null && lacksAfloat(rig) === null ? waterOf(rig.water) : null
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
          inWater: null,
        } as const
        return { strokes: [], notReached: { ...limit, says: reason } }
      }
      strokes.push({
        arm: arm.index,
        poses,
        strain: new StrokeStrain(rig, state, poses, this.pace, way),
        blade: this.#water && new BladeInWater(rig, arm, poses, this.#water),
      })
    }
    return { strokes, notReached: null }
  }

  /** m/s of the blade against the craft for each m/s of the side, as it would be on a stroke of full length. @param reach 0..1 */
  gain(reach: number): number {
    return (1 + this.#rig.driver.slip) / reach
  }

  /** @param reach 0..1, share of the stroke's length @param afloat from a standing start, on a rig that says what that takes */
  limit(side: Side, way: Way, reach: number, afloat: boolean): SideLimit {
    const key = `${side} ${way} ${reach.toFixed(6)} ${afloat}`
    return remembered(this.#limits, key, () => this.#limit(side, way, reach, afloat))
  }

  #limit(side: Side, way: Way, reach: number, afloat: boolean): SideLimit {
    const { strokes, notReached } = this.stroke(side, way, reach)
    const none = { side, way, afloat, reach, speed: 0, limit: notReached, cadence: 0, strains: [] }
    if (notReached) return none
    for (const { blade } of strokes) blade?.craft.fill(0)
    const gain = this.gain(reach)
    // A start is over before a motor warms.
    const share = (speed: number): number =>
      Math.max(...strokes.map(({ strain, blade }) => strain.at(gain * speed, afloat ? blade : null, !afloat)))
    const speed = firstBeyond(share, SCAN * reach, fastestSide(this.#rig))
    // At nothing at all the phase has no rate.
    const told = Number.isFinite(speed) ? Math.max(speed, 1e-6 * SCAN * reach) : fastestSide(this.#rig)
    share(told)
    const strains = worstOf(strokes.flatMap(({ strain }) => strain.strains))
    const most = strains.reduce((a, b) => (b.share > a.share ? b : a))
    const cadence = speed === 0 ? 0 : strokes[0]!.strain.cadence
    const limit = Number.isFinite(speed) ? limitOf(side, most, afloat ? 'standing start' : null) : null
    return { ...none, speed, limit, cadence, strains: speed === Number.POSITIVE_INFINITY ? [] : strains }
  }
}

/** m/s: no command asks more of a side. */
function fastestSide({ craft }: Rig): number {
  return parseQuantity(MOST_SURGE, 'speed') + (parseQuantity(MOST_YAW, 'angular speed') * craft.track) / 2
}

/** @param inWater what the water is taken to do; kinds of limits that it has no part in are told without it */
export function limitOf(side: Side, strain: Strain, inWater: InWater | null): Limit {
  const { item, joint, phase, value, limit, unit, share } = strain
  const [shown, beside] = showBeside(value, limit, unit)
  // On the boundary itself value and limit are one; what is too much even at a crawl has a value of its own.
  const says = share < AT_LIMIT ? `limit ${showQuantity(limit, unit)}` : `${shown} of ${beside}`
  const borne = item === 'torque' || item === 'lasting torque' ? inWater : null
  return { item, side, place: joint, phase, inWater: borne, says }
}

/** The most of each kind. */
export function worstOf(strains: readonly Strain[]): Strain[] {
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
