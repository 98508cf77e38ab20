/**
 * Does a blade whose side is asked for nothing come out of the water, and back to where it stood before its first stroke?
 *
 * The rig's stroke says how long that takes at most (parkTimes): straight up from the deepest place, then over from the farthest; a driver
 * may take the time to lift a blade that is high enough. With PART of the carrying over, a move that starts and ends at rest has made a
 * third of its way: one that still has nearly all of it before it does not move. Nearer than NEAR it has arrived.
 */
import type { Rig } from '../files/rig.js'
import { parkTimes } from '../motion/blade.js'
import type { BladePlace } from '../motion/blade-place.js'

export type Parking = 'well' | 'in the water' | 'not parked'

/** Share of the carrying's time: a quintic has made 32 % of its way by then. */
const PART = 0.4
/** Share of its way that a blade must then still have before it to be told. */
const LEFT = 0.85
/** Share of the stroke's length that counts as there. */
const NEAR = 0.05
/** s by which joints may follow late, and more */
const FOLLOW = 0.1

export class BladeParking {
  /** m, of the last look: how far the blade stands from its park place along the craft */
  away = 0
  readonly #lift: number
  readonly #carry: number
  readonly #near: number
  /** m, along the craft: the park place, NaN: not known; and where the blade was when its time began */
  #park = Number.NaN
  #from = Number.NaN

  constructor({ stroke, arms }: Pick<Rig, 'stroke' | 'arms'>) {
    const { lift, carry } = parkTimes(
      stroke,
      arms.map((arm) => arm.paddle),
    )
    this.#lift = lift
    this.#carry = carry
    this.#near = NEAR * stroke.length
  }

  /** The blade stands where its driver parks it: it is told with the next look. */
  begin(): void {
    this.#park = Number.NaN
    this.#from = Number.NaN
  }

  /** @param time s for which the side has had to park its blade; 0: it need not */
  see({ x, clearance }: Pick<BladePlace, 'x' | 'clearance'>, time: number): Parking {
    if (Number.isNaN(this.#park)) this.#park = x
    this.away = Math.abs(x - this.#park)
    if (time === 0) {
      this.#from = Number.NaN
      return 'well'
    }
    if (Number.isNaN(this.#from)) this.#from = this.away
    if (clearance <= 0 && time > this.#lift + FOLLOW) return 'in the water'
    const due = time > this.#lift + PART * this.#carry + FOLLOW
    return due && this.away > this.#near && this.away > LEFT * this.#from ? 'not parked' : 'well'
  }
}
