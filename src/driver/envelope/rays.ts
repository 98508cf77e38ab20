/** How far out a command may go in one direction, and what gives out there: on dry land, and afloat. */
import { busCapacities } from '../../bus/capacity.js'
import { lacksAfloat } from '../../files/afloat-complaints.js'
import type { Rig, Side } from '../../files/rig.js'
import { MOST_SURGE, MOST_YAW } from '../../files/scenario-schema.js'
import type { Boundary, Ends, Limit, NearestApproach, Placed, SideLimit } from '../../motion/envelope.js'
import { firstBeyond } from '../../motion/first-beyond.js'
import { SHORTEST } from '../../motion/side.js'
import { portSpeed, starboardSpeed } from '../../motion/side-speeds.js'
import { parseQuantity, showQuantity } from '../../units.js'
import { StrokeDistances } from './distances.js'
import { limitOf, SideLimits } from './side-limits.js'
import { type SideGoing, UnderWay } from './under-way.js'

/** Of a side's speed for each m/s along a direction: less is rounding, and the side stays parked. */
const STILL = 1e-9
/** Limits within this share of the first one give out together. */
const TOGETHER = 1e-3
/** Halvings of the way to what else gives out, to find where torque under way does. */
const HALVINGS = 12

/** Something that gives out, and how far along: m/s. */
interface Found {
  readonly at: number
  readonly limit: Limit
}

export class Rays {
  readonly limits: SideLimits
  /** null: the rig does not say what a craft afloat takes */
  readonly underWay: UnderWay | null
  /** Directions (rad) in which the craft comes to no steady way that could be found: only the standing start was looked at. */
  readonly unsettled: number[] = []
  readonly #rig: Rig
  readonly #distances: StrokeDistances | null
  readonly #full: Limit | null
  readonly #known = new Map<string, Ends>()

  constructor(rig: Rig) {
    this.#rig = rig
    this.limits = new SideLimits(rig)
    const { clearance, water, hull } = rig
    this.#distances = clearance === null ? null : new StrokeDistances({ ...rig, clearance }, this.limits)
    this.#full = fullBus(rig)
    const said = water !== null && hull !== null && lacksAfloat(rig) === null
    this.underWay = said ? new UnderWay({ ...rig, water, hull }, this.limits) : null
  }

  get approaches(): NearestApproach[] {
    return this.#distances?.approaches ?? []
  }

  /** Each side on its own, on strokes of full length. */
  sides(): SideLimit[] {
    const media = this.underWay === null ? [false] : [false, true]
    const sides = (['port', 'starboard'] as const).filter((side) => this.limits.has(side))
    return sides.flatMap((side) =>
      (['ahead', 'astern'] as const).flatMap((way) =>
        media.map((afloat) => this.limits.limit(side, way, 1, afloat)),
      ),
    )
  }

  /** rad: directions in which both sides reach their limits at once, where they have limits of their own. */
  corners(): number[] {
    const speeds = (side: Side, afloat: boolean): number[] =>
      this.sides().flatMap(({ speed, way, ...limit }) => {
        const own = limit.side === side && limit.afloat === afloat
        return own && Number.isFinite(speed) && speed > 0 ? [way === 'ahead' ? speed : -speed] : []
      })
    if (!this.limits.has('port') || !this.limits.has('starboard')) return []
    return [false, true].flatMap((afloat) =>
      speeds('port', afloat).flatMap((p) => speeds('starboard', afloat).map((s) => Math.atan2(s - p, s + p))),
    )
  }

  /** @param direction rad */
  ends(direction: number): Ends {
    const key = direction.toFixed(12)
    const known = this.#known.get(key)
    if (known !== undefined) return known
    const ends = this.#ends(direction)
    this.#known.set(key, ends)
    return ends
  }

  /** @param surge m/s @param yaw rad/s; not both zero */
  placed(surge: number, yaw: number): Placed {
    const { track } = this.#rig.craft
    const port = portSpeed(surge, yaw, track)
    const starboard = starboardSpeed(surge, yaw, track)
    const { dry, afloat } = this.ends(Math.atan2((starboard - port) / 2, (starboard + port) / 2))
    const asked = Math.hypot(surge, (yaw * track) / 2)
    // Nothing at all is borne where the boundary is at standstill.
    const shareOf = ({ length }: Boundary): number =>
      length === 0 ? Number.POSITIVE_INFINITY : asked / length
    const shares = { dry: shareOf(dry), afloat: afloat && shareOf(afloat) }
    const worse = afloat !== null && afloat.length < dry.length ? afloat : dry
    return { surge, yaw, shares, share: shareOf(worse), boundary: worse }
  }

  /** The sides that stroke. @param surge m/s @param yaw rad/s */
  going(surge: number, yaw: number): SideGoing[] {
    const { track } = this.#rig.craft
    return this.#stroking(portSpeed(surge, yaw, track), starboardSpeed(surge, yaw, track))
  }

  #ends(direction: number): Ends {
    const surge = Math.cos(direction)
    const turn = Math.sin(direction)
    const along = this.#stroking(surge - turn, surge + turn)
    const always = [...this.#atAnySpeed(along), ...this.#commandRange(surge, turn)]
    const reached = always.every(({ limit }) => limit.item !== 'reach')
    const own = (afloat: boolean): Found[] =>
      along.flatMap(({ side, way, reach, speed }) => {
        const most = this.limits.limit(side, way, reach, afloat)
        return most.limit === null || !reached ? [] : [{ at: most.speed / speed, limit: most.limit }]
      })
    const dry = this.#boundary(direction, [...own(false), ...always])
    if (this.underWay === null) return { dry, afloat: null }
    const standing = [...own(true), ...always]
    const farthest = Math.min(...standing.map(({ at }) => at))
    const wayed = farthest > 0 && along.length > 0 ? this.#underWay(direction, along, farthest) : []
    return { dry, afloat: this.#boundary(direction, [...wayed, ...standing]) }
  }

  /** Nearest first, and those that give out with it. */
  #boundary(direction: number, found: readonly Found[]): Boundary {
    const { track } = this.#rig.craft
    const surge = Math.cos(direction)
    const turn = Math.sin(direction)
    const length = Math.min(...found.map(({ at }) => at))
    const limits = found.filter(({ at }) => at <= length * (1 + TOGETHER)).map(({ limit }) => limit)
    return {
      direction,
      length,
      surge: length * surge,
      yaw: (length * turn * 2) / track,
      port: length * (surge - turn),
      starboard: length * (surge + turn),
      limits,
    }
  }

  /** @param port, starboard m/s of the sides, or of each m/s along a direction */
  #stroking(port: number, starboard: number): SideGoing[] {
    const fastest = Math.max(Math.abs(port), Math.abs(starboard))
    const sides = [
      ['port', port],
      ['starboard', starboard],
    ] as const
    return sides.flatMap(([side, speed]): SideGoing[] => {
      if (Math.abs(speed) < STILL || !this.limits.has(side)) return []
      const apart = this.#rig.stroke.sides === 'free'
      const reach = apart ? 1 : Math.max(SHORTEST, Math.abs(speed) / fastest)
      return [{ side, way: speed > 0 ? 'ahead' : 'astern', reach, speed: Math.abs(speed) }]
    })
  }

  /** What does not depend on speed: reach, bus, clearance. */
  #atAnySpeed(along: readonly SideGoing[]): Found[] {
    const found: Found[] = along.flatMap(({ side, way, reach }) => {
      const { notReached } = this.limits.stroke(side, way, reach)
      return notReached === null ? [] : [{ at: 0, limit: notReached }]
    })
    const reached = found.length === 0
    if (this.#full !== null) found.push({ at: 0, limit: this.#full })
    const near = reached && along.length > 0 ? this.#distances?.nearest(along) : null
    const least = this.#rig.clearance?.least ?? 0
    if (near && near.distance < least) {
      const says = `${showQuantity(near.distance, 'm')}, at least ${showQuantity(least, 'm')}`
      const side = near.sides.length === 1 ? near.sides[0]! : null
      const place = near.between.join(', ')
      found.push({ at: 0, limit: { item: 'clearance', side, place, phase: null, inWater: null, says } })
    }
    return found
  }

  /** Torque under way, where that is what gives out first. @param farthest m/s along the direction, where something else does */
  #underWay(direction: number, along: readonly SideGoing[], farthest: number): Found[] {
    const way = this.underWay!
    let settled = true
    /** What gives out, the worst of each side. */
    const worst = (length: number) => {
      const going = along.map((s) => ({ ...s, speed: s.speed * length }))
      settled &&= way.settle(going)
      return going.map((s) => {
        const borne = way.strains(s).filter(({ item }) => item === 'torque' || item === 'lasting torque')
        return { side: s.side, strain: borne.reduce((a, b) => (b.share > a.share ? b : a)) }
      })
    }
    const share = (length: number): number => Math.max(...worst(length).map(({ strain }) => strain.share))
    // Halfway out as well: a torque may fall with the speed before it rises.
    const given = share(farthest / 2) > 1 || share(farthest) > 1
    const at = given ? firstBeyond(share, farthest / 2, farthest, HALVINGS) : Number.POSITIVE_INFINITY
    if (!settled) {
      this.unsettled.push(direction)
      return []
    }
    if (!Number.isFinite(at)) return []
    return worst(Math.max(at, 1e-6 * farthest)).flatMap(({ side, strain }) =>
      strain.share > 1 - TOGETHER ? [{ at, limit: limitOf(side, strain, 'under way') }] : [],
    )
  }

  /** @param surge, turn the direction's unit vector */
  #commandRange(surge: number, turn: number): Found[] {
    const { track } = this.#rig.craft
    const range = (place: string, most: string, share: number, length: number): Found[] => {
      if (Math.abs(share) < STILL) return []
      const says = `a scenario may command ${most}`
      const limit: Limit = { item: 'command range', side: null, place, phase: null, inWater: null, says }
      return [{ at: length / Math.abs(share), limit }]
    }
    return [
      ...range('surge', MOST_SURGE, surge, parseQuantity(MOST_SURGE, 'speed')),
      ...range('yaw rate', MOST_YAW, turn, (parseQuantity(MOST_YAW, 'angular speed') * track) / 2),
    ]
  }
}

/** A bus that cannot carry what the control rate sends over it, whatever the speed. */
function fullBus(rig: Rig): Limit | null {
  const full = busCapacities(rig).find(({ needed, available }) => needed > available)
  if (full === undefined) return null
  const share = Math.round((100 * full.needed) / full.available)
  const says = `${share} % of what it carries, at ${showQuantity(rig.control.rate, 'Hz')}`
  return { item: 'bus load', side: null, place: full.bus, phase: null, inWater: null, says }
}
