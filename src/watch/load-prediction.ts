/**
 * The craft under the blades of a run as if it had been played afloat: each arm's water pulls it, its hull holds it, and its speed is the
 * one that the blades meet. From rest on still water when the approach begins. What water/craft-motion.ts leaves out is left out.
 */
import type { Rig } from '../files/rig.js'
import type { BladeLoad } from '../motion/blade-load.js'
import type { CraftMotion } from '../motion/water/craft-motion.js'
import type { Water } from '../motion/water/properties.js'
import { craftMotionOf } from '../motion/water/rig-craft.js'

export class LoadPrediction {
  /** m/s, the fastest along x through the water, signed */
  fastest = 0
  readonly #craft: CraftMotion
  readonly #speed = new Float64Array(3)
  readonly #current = new Float64Array(2)

  /** @throws DrystrokeError `file-invalid` for a hull that cannot be */
  constructor(
    { craft, control }: Pick<Rig, 'craft' | 'control'>,
    hull: NonNullable<Rig['hull']>,
    water: Water,
  ) {
    this.#craft = craftMotionOf(craft, hull, water, control.period)
  }

  /** At rest, at the place where it is. */
  rest(): void {
    this.#craft.state.fill(0)
  }

  /** The water on an arm's blade for the motion that it has worked out last, which pulls the craft. */
  wet(arm: Pick<BladeLoad, 'blade' | 'wrench' | 'wet'>): void {
    const { blade } = arm
    this.#craft.overGround(this.#speed)
    this.#craft.currentHere(this.#current)
    arm.wet(this.#speed, this.#current)
    this.#craft.pull(arm.wrench, blade[9]!, blade[10]!)
  }

  /** One control period on. */
  step(): void {
    this.#craft.step()
    const surge = this.#craft.state[3]!
    if (Math.abs(surge) > Math.abs(this.fastest)) this.fastest = surge
  }
}
