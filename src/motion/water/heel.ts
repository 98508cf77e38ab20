/**
 * How far the craft heels when its arms move outboard.
 *
 * Source: tan(phi) = w d / (displacement GM), for a mass w moved athwart by d: the inclining experiment's formula; K. J. Rawson and E. C.
 * Tupper, "Basic Ship Theory", 5th ed. (2001), ch. 4 (from memory).
 */
import type { Side } from '../../files/rig.js'
import { expectNotNegative, expectPositive } from '../bounds.js'

/** Stands beside every heel that is shown. */
export const HEEL_CAUTION =
  'Heel here is an aid for still water and small angles, no proof of stability: beyond about 10 deg the metacentric height no ' +
  'longer describes the craft, and waves, wind, people who move and water in the hull all add to it. Try it, with a hand on the craft.'

/** How a craft floats. */
export interface Floating {
  /** kg, craft with arms and all that it carries */
  readonly displacement: number
  /** m, metacentric height GM of the laden craft */
  readonly metacentricHeight: number
}

/** How far an arm's mass can go athwart from where it is when the craft floats upright. */
export interface ArmMass {
  readonly side: Side
  /** kg, arm with paddle */
  readonly mass: number
  /** m, outboard at most */
  readonly outboard: number
  /** m, inboard and beyond at most */
  readonly inboard: number
}

/** rad, to port + */
export interface ArmHeels {
  /** All arms as far to port as they go */
  readonly toPort: number
  readonly toStarboard: number
  /** One for each arm: it hangs outboard without power, the others are where they were */
  readonly dead: readonly number[]
}

/**
 * rad: the heel from masses moved athwart, to the side where they go.
 * @param moment kg m, the sum of masses times the way that each has gone
 * @throws DrystrokeError `file-invalid` for a craft without displacement, or one that does not float upright (GM of zero or less)
 */
export function heel(moment: number, { displacement, metacentricHeight }: Floating): number {
  expectPositive('hull.displacement', displacement, 'kg')
  expectPositive('hull.metacentric-height', metacentricHeight, 'm')
  return Math.atan(moment / (displacement * metacentricHeight))
}

/** @throws DrystrokeError `file-invalid` as `heel`, and for negative masses or ways */
export function armHeels(arms: readonly ArmMass[], craft: Floating): ArmHeels {
  for (const { side, mass, outboard, inboard } of arms) {
    expectNotNegative(`arm ${side}: mass`, mass, 'kg')
    expectNotNegative(`arm ${side}: outboard`, outboard, 'm')
    expectNotNegative(`arm ${side}: inboard`, inboard, 'm')
  }
  const to = (side: Side): number =>
    arms.reduce((sum, arm) => sum + arm.mass * (arm.side === side ? arm.outboard : arm.inboard), 0)
  return {
    toPort: heel(to('port'), craft),
    toStarboard: -heel(to('starboard'), craft),
    dead: arms.map(({ side, mass, outboard }) => (side === 'port' ? 1 : -1) * heel(mass * outboard, craft)),
  }
}
