/**
 * The envelope of a rig's commands (see motion/envelope.ts), worked out from its structure.
 *
 * Where the sides stroke at cadences of their own, what a side bears depends on its own speed alone: four numbers, each
 * side ahead and astern, make the whole boundary, a rectangle in the plane of the two side speeds. Where they are coupled, the
 * slower side shortens its stroke by the ratio of the speeds, which is the same all along a direction: there each side has one
 * number for each ratio. Nothing is sampled over the plane.
 *
 * So it is afloat from a standing start. Under way each blade meets the water with the craft's way, which both sides make together:
 * there each direction is looked at by itself, from where something else gives out inwards.
 */
import { lacksAfloat } from '../../files/afloat-complaints.js'
import type { Rig } from '../../files/rig.js'
import type { Command, Scenario } from '../../files/scenario.js'
import type { Study } from '../../motion/cruise.js'
import type { PlacedCommand } from '../../motion/envelope.js'
import { assumptionsOf } from './assumptions.js'
import { cruiseOf } from './cruise.js'
import { Rays } from './rays.js'

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

/**
 * @param directions how many, evenly all around
 * @param cruise a command of which more is wanted, or null
 * @throws DrystrokeError when nothing can be said of that command, see `cruiseOf`
 */
export function envelopeOf(
  rig: Rig,
  scenarios: readonly Scenario[],
  directions: number,
  cruise: Command | null = null,
): Study {
  const rays = new Rays(rig)
  // First, as it may be refused.
  const cruised = cruise && cruiseOf(rig, cruise, rays)
  const even = Array.from({ length: directions }, (_, i) => (i / directions) * TURN)
  const around = [...even, ...rays.corners()].map(turned).sort((a, b) => a - b)
  const apart = around.filter((direction, i) => i === 0 || direction - around[i - 1]! > 1e-9)
  const ends = apart.map((direction) => rays.ends(direction))
  const afloat = ends.flatMap((e) => e.afloat ?? [])
  return {
    rig: rig.name,
    track: rig.craft.track,
    boundary: ends.map(({ dry }) => dry),
    afloat: rays.underWay === null ? null : afloat,
    lacksAfloat: lacksAfloat(rig),
    named: NAMED.map(([name, direction]) => ({ name, ...rays.ends(direction) })),
    sides: rays.sides(),
    leastDistance: rig.clearance?.least ?? null,
    approaches: rays.approaches,
    commands: scenarios.flatMap((scenario) => commandsOf(scenario, rays)),
    cruise: cruised,
    assumptions: assumptionsOf(rig, rays.unsettled.length),
  }
}

/** Each command that moves the craft, once. */
function commandsOf({ name, commands }: Scenario, rays: Rays): PlacedCommand[] {
  const seen = new Set<string>()
  return commands.flatMap(({ at, surge, yaw }): PlacedCommand[] => {
    const key = `${surge} ${yaw}`
    if ((surge === 0 && yaw === 0) || seen.has(key)) return []
    seen.add(key)
    return [{ scenario: name, at, ...rays.placed(surge, yaw) }]
  })
}

/** In 0..2 pi; a whole turn is none. */
function turned(direction: number): number {
  const rest = direction - TURN * Math.floor(direction / TURN)
  return TURN - rest < 1e-9 ? 0 : rest
}
