/**
 * How joints come to rest: rise, overshoot and settling of each move of a setpoint from rest to rest (motion/step-response.ts).
 *
 * Where there are such moves: the approach, the moves of a jog, and whatever else a driver does from rest to rest. Strokes never
 * rest. None of them is a step, as the last gate lets none through: a joint that overshoots the smooth end of a slow move would do so
 * far more after a step, and one that takes long to settle there is slow. The response of a side's speed to a step of the command is not
 * among them: a blade shows its side's speed on the even part of a drive only, and few commands change just then.
 */
import type { Figure, Finding } from '../files/event.js'
import { StepResponse } from '../motion/step-response.js'
import type { ShownUnit } from '../units.js'
import { Setpoints } from './setpoints.js'
import type { WatchSettings } from './settings.js'
import { isOperation } from './tracking.js'
import type { Observation, Watch, WatchContext } from './watch.js'

/** s without motion of a setpoint that count as rest, and the longest move that is measured. */
const REST = 0.1
const LONGEST = 30

/** What one joint did, over its moves. */
interface Moves {
  count: number
  /** rad and s, of the longest move */
  height: number
  rise: number
  askedRise: number
  /** Share; s */
  overshoot: number
  settling: number
}

export class StepsWatch implements Watch {
  readonly kinds = ['setpoint', 'feedback', 'stage', 'stop'] as const
  readonly #c: WatchContext<WatchSettings['steps']>
  readonly #setpoints: Setpoints
  readonly #responses: readonly StepResponse[]
  readonly #moves: readonly Moves[]
  readonly #index: Int32Array
  #on = false

  constructor(context: WatchContext<WatchSettings['steps']>) {
    this.#c = context
    const { rig, settings } = context
    const samples = (s: number): number => Math.ceil(s / rig.control.period)
    const n = rig.joints.length
    this.#setpoints = new Setpoints(n, 2)
    this.#responses = rig.joints.map(
      () => new StepResponse(samples(LONGEST), samples(REST), samples(Math.max(REST, 2 * settings.settling))),
    )
    this.#moves = rig.joints.map(() => ({
      count: 0,
      height: 0,
      rise: 0,
      askedRise: 0,
      overshoot: 0,
      settling: 0,
    }))
    this.#index = new Int32Array(n).fill(-1)
  }

  see(o: Observation): void {
    if (o.kind === 'feedback') this.#feedback(o.joint, o.index, o.position, o.t)
    else if (o.kind === 'setpoint') this.#setpoints.put(o.joint, o.index, o.position)
    else if (o.kind === 'stage') this.#turn(o.stage === 'enable' || isOperation(o.stage))
    else if (o.kind === 'stop') this.#turn(false)
  }

  close(): void {}

  figures(): Figure[] {
    const { rig, settings } = this.#c
    return rig.joints.flatMap(({ name: place, index }) => {
      const { count, rise, askedRise, overshoot, settling } = this.#moves[index]!
      if (count === 0) return []
      const row = (name: string, value: number, unit: ShownUnit, limit: number | null): Figure => {
        return { place, name, value, unit, limit }
      }
      return [
        row('moves from rest to rest', count, 'count', null),
        row('rise 10 to 90 % of the longest move', rise, 's', null),
        row('the same of its setpoint', askedRise, 's', null),
        row('overshoot, most', overshoot, 'share', settings.overshoot),
        row('settling into 2 %, after the setpoint has arrived, longest', settling, 's', settings.settling),
      ]
    })
  }

  #turn(on: boolean): void {
    if (on === this.#on) return
    this.#on = on
    for (const response of this.#responses) response.anew()
  }

  #feedback(j: number, index: number, position: number, t: number): void {
    const before = this.#index[j]!
    if (!this.#on || index <= before) return
    this.#index[j] = index
    const response = this.#responses[j]!
    // A move of which a part was not seen is not measured.
    if (index !== before + 1) response.anew()
    const setpoint = this.#setpoints.paired(j, index)
    if (Number.isNaN(setpoint) || !response.see(setpoint, position)) return
    if (Math.abs(response.last.height) >= this.#c.settings.least) this.#moved(j, t)
  }

  #moved(j: number, t: number): void {
    const { settings, rig } = this.#c
    const { last } = this.#responses[j]!
    const { period } = rig.control
    const moves = this.#moves[j]!
    moves.count++
    if (Math.abs(last.height) > moves.height) {
      moves.height = Math.abs(last.height)
      moves.rise = last.rise * period
      moves.askedRise = last.askedRise * period
    }
    const over = last.overshoot > settings.overshoot && moves.overshoot <= settings.overshoot
    moves.overshoot = Math.max(moves.overshoot, last.overshoot)
    // What had not settled took longer than it was looked at.
    const settling = (Number.isNaN(last.settling) ? last.looked : last.settling) * period
    const slow = settling > settings.settling && moves.settling <= settings.settling
    moves.settling = Math.max(moves.settling, settling)
    if (over) {
      this.#report(j, t, {
        quantity: 'overshoot',
        value: last.overshoot,
        limit: settings.overshoot,
        unit: 'share',
        says: 'The joint went beyond where its move ended, and came back.',
        look: 'Look at damping and feedforward of the position loop, then at play and at a mount that gives way.',
      })
    }
    if (slow) {
      this.#report(j, t, {
        quantity: 'settling',
        value: settling,
        limit: settings.settling,
        unit: 's',
        says: 'The joint was not at rest within 2 % of its move when it should have been.',
        look: 'Look at gain and damping of the position loop, then at friction.',
      })
    }
  }

  #report(
    j: number,
    t: number,
    told: Omit<Finding, 'watch' | 'severity' | 'place' | 't' | 'why' | 'stop'>,
  ): void {
    this.#c.report({
      ...told,
      severity: 'warning',
      place: this.#c.rig.joints[j]!.name,
      t,
      why: 'After a faster move, as a stop is one, it swings further and longer.',
      stop: null,
    })
  }
}
