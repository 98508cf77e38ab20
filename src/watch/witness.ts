/**
 * Feedback against the true position: on simulated arms each tick carries their true positions, as somebody beside the arm would see
 * them. A wrong sign, scale or zero in the rig's binding shows here and nowhere else, because setpoints and feedback
 * share it. Real arms have no witness: a human has to look.
 */
import type { Nanos } from '../clock.js'
import type { Figure } from '../files/event.js'
import { Alarm } from './alarm.js'
import type { WatchSettings } from './settings.js'
import type { WatchContext } from './watch.js'

export class Witness {
  readonly #c: WatchContext<WatchSettings['sense']>
  readonly #alarm: Alarm
  readonly #greatest: Float64Array
  #now: readonly number[] | null = null
  #before: readonly number[] | null = null
  #feedback = false

  constructor(context: WatchContext<WatchSettings['sense']>) {
    this.#c = context
    this.#alarm = new Alarm(context.rig.joints.length)
    this.#greatest = new Float64Array(context.rig.joints.length)
  }

  /** @param positions rad, true positions of all joints at this tick, or null */
  tick(positions: readonly number[] | null): void {
    this.#before = this.#now
    this.#now = positions
  }

  /** @param position rad, decoded feedback, sampled at the tick before */
  feedback(j: number, position: number, t: Nanos): void {
    this.#feedback = true
    if (this.#now === null) return
    const { rig, settings } = this.#c
    const seen = this.#now[j]!
    const off = Math.abs(position - seen)
    if (off > this.#greatest[j]!) this.#greatest[j] = off
    // A frame may be up to two periods older than what the eye sees.
    const moved = this.#before === null ? 0 : 2 * Math.abs(seen - this.#before[j]!)
    const limit = settings.witness + moved
    if (!this.#alarm.rises(j, off > limit ? 2 : 0, t)) return
    this.#c.report({
      severity: 'failure',
      place: rig.joints[j]!.name,
      t,
      quantity: 'feedback off the true position',
      value: off,
      limit,
      unit: 'rad',
      says: 'The joint is not where its feedback says.',
      why: 'With a wrong sign, scale or zero every other check of this joint is worthless.',
      look: "Look at sign, counts-per-turn and zero in this joint's wire binding.",
      stop: rig.stop.category,
    })
  }

  close(t: Nanos): void {
    if (this.#now !== null || this.#before !== null || !this.#feedback) return
    this.#c.report({
      severity: 'warning',
      place: '',
      t,
      quantity: 'not witnessed',
      value: 0,
      limit: 1,
      unit: 'none',
      says: 'Nobody compared the feedback with the arms themselves: this needs a human eye.',
      why: 'A wrong sign or zero is shared by setpoint and feedback, and encoders cannot show it.',
      look: 'Jog each joint by a small angle and look which way it turns.',
      stop: null,
    })
  }

  figures(): Figure[] {
    if (this.#now === null && this.#before === null) {
      return [{ place: '', name: 'joints witnessed', value: 0, unit: 'count', limit: null }]
    }
    const { rig, settings } = this.#c
    return [
      { place: '', name: 'joints witnessed', value: rig.joints.length, unit: 'count', limit: null },
      ...rig.joints.map(
        ({ name: place, index }): Figure => ({
          place,
          name: 'feedback off the true position, greatest',
          value: this.#greatest[index]!,
          unit: 'rad',
          limit: settings.witness,
        }),
      ),
    ]
  }
}
