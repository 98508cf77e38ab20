/**
 * How far the craft heels when its arms move outboard.
 *
 * Source: tan(phi) = w d / (displacement GM), for a mass w moved athwart by d: the inclining experiment's formula; K. J. Rawson and E. C.
 * Tupper, "Basic Ship Theory", 5th ed. (2001), ch. 4 (from memory).
 */
import { expectNotNegative, expectPositive } from '../bounds.js'

/** Stands beside every heel that is shown. */
export const HEEL_CAUTION =
  'An aid for still water and small angles, no proof of stability: beyond about 10 deg the metacentric height no longer ' +
  'describes the craft, and waves, wind, people who move and water in the hull all add to the heel. Try it, with a hand on the craft.'

/** How a craft floats. */
export interface Floating {
  /** kg, craft with arms and all that it carries */
  readonly displacement: number
  /** m, metacentric height GM of the laden craft */
  readonly metacentricHeight: number
}

/** How far an arm's mass can go athwart from where it is when the craft floats upright. */
export interface ArmMass {
  /** kg, arm with paddle */
  readonly mass: number
  /** m, outboard at most */
  readonly outboard: number
  /** m, inboard and beyond at most */
  readonly inboard: number
}

/** rad, to port + */
export interface ArmHeels {
  /** Both arms as far to port as they go */
  readonly bothToPort: number
  readonly bothToStarboard: number
  /** The port arm hangs outboard without power, the other is where it was */
  readonly portDead: number
  readonly starboardDead: number
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
export function armHeels(port: ArmMass, starboard: ArmMass, craft: Floating): ArmHeels {
  for (const [name, arm] of [['port', port] as const, ['starboard', starboard] as const]) {
    expectNotNegative(`arm ${name}: mass`, arm.mass, 'kg')
    expectNotNegative(`arm ${name}: outboard`, arm.outboard, 'm')
    expectNotNegative(`arm ${name}: inboard`, arm.inboard, 'm')
  }
  return {
    bothToPort: heel(port.mass * port.outboard + starboard.mass * starboard.inboard, craft),
    bothToStarboard: heel(-port.mass * port.inboard - starboard.mass * starboard.outboard, craft),
    portDead: heel(port.mass * port.outboard, craft),
    starboardDead: heel(-starboard.mass * starboard.outboard, craft),
  }
}
