/**
 * The envelope of a rig's commands (see motion/envelope.ts), worked out from its structure.
 *
 * Where the sides stroke at cadences of their own, what a side bears depends on its own speed alone: four numbers, each
 * side ahead and astern, make the whole boundary, a rectangle in the plane of the two side speeds. Where they are coupled, the
 * slower side shortens its stroke by the ratio of the speeds, which is the same all along a direction: there each side has one
 * number for each ratio. Nothing is sampled over the plane.
 */
import { busCapacities } from '../../bus/capacity.js'
import type { Rig, Side } from '../../files/rig.js'
import type { Scenario } from '../../files/scenario.js'
import { MOST_SURGE, MOST_YAW } from '../../files/scenario-schema.js'
import type { Boundary, Envelope, Limit, PlacedCommand, SideLimit } from '../../motion/envelope.js'
import { SHORTEST } from '../../motion/side.js'
import { portSpeed, starboardSpeed } from '../../motion/side-speeds.js'
import { parseQuantity, showQuantity } from '../../units.js'
import { assumptionsOf } from './assumptions.js'
import { StrokeDistances, type Stroking } from './distances.js'
import { SideLimits } from './side-limits.js'

/** Of a side's speed for each m/s along a direction: less is rounding, and the side stays parked. */
const STILL = 1e-9
/** Limits within this share of the first one give out together. */
const TOGETHER = 1e-3
const TURN = 2 * Math.PI

/** Of everyday; each in rad. */
const NAMED = [
  ['ahead', 0],
  ['arc to port', TURN / 16],
  ['port side parked', TURN / 8],
  ['pivot to port', TURN / 4],
  ['astern', TURN / 2],
  ['pivot to starboard', -TURN / 4],
  ['starboard side parked', -TURN / 8],
  ['arc to starboard', -TURN / 16],
] as const

/** @param directions how many, evenly all around */
export function envelopeOf(rig: Rig, scenarios: readonly Scenario[], directions: number): Envelope {
  const all = new Rays(rig)
  const even = Array.from({ length: directions }, (_, i) => (i / directions) * TURN)
  const around = [...even, ...all.corners()].map(turned).sort((a, b) => a - b)
  const apart = around.filter((direction, i) => i === 0 || direction - around[i - 1]! > 1e-9)
  const boundary = apart.map((direction) => all.boundary(direction))
  const named = NAMED.map(([name, direction]) => ({ name, boundary: all.boundary(direction) }))
  return {
    rig: rig.name,
    track: rig.craft.track,
    boundary,
    named,
    sides: all.sides(),
    leastDistance: rig.clearance?.least ?? null,
    approaches: all.approaches,
    commands: scenarios.flatMap((scenario) => all.placed(scenario)),
    assumptions: assumptionsOf(rig),
  }
}

/** In 0..2 pi; a whole turn is none. */
function turned(direction: number): number {
  const rest = direction - TURN * Math.floor(direction / TURN)
  return TURN - rest < 1e-9 ? 0 : rest
}

class Rays {
  readonly #rig: Rig
  readonly #limits: SideLimits
  readonly #distances: StrokeDistances | null
  readonly #full: Limit | null

  constructor(rig: Rig) {
    this.#rig = rig
    this.#limits = new SideLimits(rig)
    const { clearance } = rig
    this.#distances = clearance === null ? null : new StrokeDistances({ ...rig, clearance }, this.#limits)
    this.#full = fullBus(rig)
  }

  get approaches() {
    return this.#distances?.approaches ?? []
  }

  /** Each side on its own, on strokes of full length. */
  sides(): SideLimit[] {
    const sides = (['port', 'starboard'] as const).filter((side) => this.#limits.has(side))
    return sides.flatMap((side) =>
      (['ahead', 'astern'] as const).map((way) => this.#limits.limit(side, way, 1)),
    )
  }

  /** rad: directions in which both sides reach their limits at once, where they have limits of their own. */
  corners(): number[] {
    const speeds = (side: Side): number[] =>
      (['ahead', 'astern'] as const).flatMap((way) => {
        const { speed } = this.#limits.limit(side, way, 1)
        return Number.isFinite(speed) && speed > 0 ? [way === 'ahead' ? speed : -speed] : []
      })
    if (!this.#limits.has('port') || !this.#limits.has('starboard')) return []
    return speeds('port').flatMap((p) => speeds('starboard').map((s) => Math.atan2(s - p, s + p)))
  }

  /** @param direction rad */
  boundary(direction: number): Boundary {
    const { track } = this.#rig.craft
    const surge = Math.cos(direction)
    const turn = Math.sin(direction)
    const [port, starboard] = [surge - turn, surge + turn]
    const found = this.#limitsAlong(port, starboard)
    found.push(...this.#commandRange(surge, turn))
    const length = Math.min(...found.map(({ at }) => at))
    const limits = found.filter(({ at }) => at <= length * (1 + TOGETHER)).map(({ limit }) => limit)
    return {
      direction,
      length,
      surge: length * surge,
      yaw: (length * turn * 2) / track,
      port: length * port,
      starboard: length * starboard,
      limits,
    }
  }

  placed({ name, commands }: Scenario): PlacedCommand[] {
    const { track } = this.#rig.craft
    const seen = new Set<string>()
    return commands.flatMap(({ at, surge, yaw }): PlacedCommand[] => {
      const key = `${surge} ${yaw}`
      if ((surge === 0 && yaw === 0) || seen.has(key)) return []
      seen.add(key)
      const port = portSpeed(surge, yaw, track)
      const starboard = starboardSpeed(surge, yaw, track)
      const direction = Math.atan2((starboard - port) / 2, (starboard + port) / 2)
      const boundary = this.boundary(direction)
      const asked = Math.hypot(surge, (yaw * track) / 2)
      // Nothing at all is borne where the boundary is at standstill.
      const share = boundary.length === 0 ? Number.POSITIVE_INFINITY : asked / boundary.length
      return [{ scenario: name, at, surge, yaw, share, boundary }]
    })
  }

  /** All that may give out, and how far along: m/s. @param port, starboard m/s of the sides for each m/s along the direction */
  #limitsAlong(port: number, starboard: number): { at: number; limit: Limit }[] {
    const fastest = Math.max(Math.abs(port), Math.abs(starboard))
    const found: { at: number; limit: Limit }[] = []
    const stroking: Stroking[] = []
    for (const [side, speed] of [
      ['port', port],
      ['starboard', starboard],
    ] as const) {
      if (Math.abs(speed) < STILL || !this.#limits.has(side)) continue
      const way = speed > 0 ? 'ahead' : 'astern'
      const apart = this.#rig.stroke.sides === 'free'
      const reach = apart ? 1 : Math.max(SHORTEST, Math.abs(speed) / fastest)
      stroking.push({ side, way, reach })
      const most = this.#limits.limit(side, way, reach)
      if (most.limit !== null) found.push({ at: most.speed / Math.abs(speed), limit: most.limit })
    }
    if (this.#full !== null) found.push({ at: 0, limit: this.#full })
    const reached = found.every(({ limit }) => limit.item !== 'reach')
    const near = reached && stroking.length > 0 ? this.#distances?.nearest(stroking) : null
    const least = this.#rig.clearance?.least ?? 0
    if (near && near.distance < least) {
      const says = `${showQuantity(near.distance, 'm')}, at least ${showQuantity(least, 'm')}`
      const side = near.sides.length === 1 ? near.sides[0]! : null
      found.push({
        at: 0,
        limit: { item: 'clearance', side, place: near.between.join(', '), phase: null, says },
      })
    }
    return found
  }

  /** @param surge, turn the direction's unit vector */
  #commandRange(surge: number, turn: number): { at: number; limit: Limit }[] {
    const { track } = this.#rig.craft
    const range = (place: string, says: string, share: number, most: number) =>
      Math.abs(share) < STILL
        ? []
        : [
            {
              at: most / Math.abs(share),
              limit: { item: 'command range', side: null, place, phase: null, says } as const,
            },
          ]
    return [
      ...range('surge', `a scenario may command ${MOST_SURGE}`, surge, parseQuantity(MOST_SURGE, 'speed')),
      ...range(
        'yaw rate',
        `a scenario may command ${MOST_YAW}`,
        turn,
        (parseQuantity(MOST_YAW, 'angular speed') * track) / 2,
      ),
    ]
  }
}

/** A bus that cannot carry what the control rate sends over it, whatever the speed. */
function fullBus(rig: Rig): Limit | null {
  const full = busCapacities(rig).find(({ needed, available }) => needed > available)
  if (full === undefined) return null
  const share = Math.round((100 * full.needed) / full.available)
  const says = `${share} % of what it carries, at ${showQuantity(rig.control.rate, 'Hz')}`
  return { item: 'bus load', side: null, place: full.bus, phase: null, says }
}
