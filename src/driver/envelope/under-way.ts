/**
 * Strokes of both sides on a craft that is under the steady way which they themselves bring about. The craft's way is taken as even over a
 * stroke: its blades pull it by their means. So it does not matter how the strokes of the two sides lie to each other.
 */
import type { Rig, Side } from '../../files/rig.js'
import type { Strain, Way } from '../../motion/envelope.js'
import type { CraftMotion } from '../../motion/water/craft-motion.js'
import { waterOf } from '../../motion/water/properties.js'
import { craftMotionOf } from '../../motion/water/rig-craft.js'
import { SteadyWay } from '../../motion/water/steady-way.js'
import { type SideLimits, type SideStroke, worstOf } from './side-limits.js'

/** How a side strokes, and how fast. */
export interface SideGoing {
  readonly side: Side
  readonly way: Way
  /** 0..1 */
  readonly reach: number
  /** m/s, of the side, without sign */
  readonly speed: number
}

/** Of the commanded way, what a craft makes of it: a first guess. */
const SLOWER = 0.5

type AfloatRig = Rig & { readonly water: NonNullable<Rig['water']>; readonly hull: NonNullable<Rig['hull']> }

export class UnderWay {
  /** Its state has the way that the last `settle` found. */
  readonly craft: CraftMotion
  readonly #sides: SideLimits
  readonly #steady: SteadyWay
  readonly #track: number

  /** @param rig that says all that a craft afloat needs */
  constructor(rig: AfloatRig, sides: SideLimits) {
    this.#sides = sides
    this.#track = rig.craft.track
    // Nothing is stepped.
    this.craft = craftMotionOf(rig.craft, rig.hull, waterOf(rig.water), 1)
    this.#steady = new SteadyWay(this.craft, rig.craft.track / 2)
  }

  /** Finds the way for sides that all reach their strokes, and lets their blades meet the water with it. @returns is there one? */
  settle(going: readonly SideGoing[]): boolean {
    const { state } = this.craft
    const fastest = Math.max(...going.map(({ speed }) => speed))
    const of = (side: Side): number =>
      going.reduce((sum, g) => (g.side === side ? sum + (g.way === 'ahead' ? g.speed : -g.speed) : sum), 0)
    const [port, starboard] = [of('port'), of('starboard')]
    state[3] = (SLOWER * (port + starboard)) / 2
    state[4] = 0
    state[5] = (SLOWER * (starboard - port)) / this.#track
    const all = going.map((g) => ({ going: g, stroke: this.#strokeOf(g) }))
    const { pace } = this.#sides
    return this.#steady.settle((craft) => {
      for (const { going: g, stroke } of all) {
        for (const { strain, blade } of stroke.strokes) {
          pace.run(strain.signed(this.#sides.gain(g.reach) * g.speed))
          blade!.pull(craft, pace)
        }
      }
    }, fastest)
  }

  /** What a side's joints bear with the way of the last `settle`; the most of each kind. */
  strains(going: SideGoing): Strain[] {
    const speed = this.#sides.gain(going.reach) * going.speed
    return worstOf(
      this.#strokeOf(going).strokes.flatMap(({ strain, blade }) => {
        this.craft.overGround(blade!.craft)
        strain.at(speed, blade)
        return strain.strains
      }),
    )
  }

  #strokeOf({ side, way, reach }: SideGoing): SideStroke {
    return this.#sides.stroke(side, way, reach)
  }
}
