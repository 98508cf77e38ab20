/**
 * Reversal error of each joint: what of an error depends on the direction from which the joint has come (motion/hysteresis.ts), while it follows
 * setpoints and has gone far enough since it last turned round.
 *
 * Two errors are looked at. Setpoint less feedback: play or friction between what the drive is told and what its encoder sees. And, on
 * simulated arms, feedback less true position: play behind the encoder. An encoder at the motor cannot see that on real arms:
 * figures say of how many joints it was seen, and of the others nothing is known.
 *
 * Each joint is judged whenever it turns round, and at the end: what is found is told once, and again if it becomes a failure.
 *
 * Under load that changes between drive and recovery (a blade in water) a joint gives way to one side only, which looks the same: afloat
 * the first one is told as a figure and not judged.
 */
import type { Nanos } from '../clock.js'
import type { Figure, Finding } from '../files/event.js'
import { Hysteresis } from '../motion/hysteresis.js'
import { Setpoints } from './setpoints.js'
import type { WatchSettings } from './settings.js'
import { isOperation } from './tracking.js'
import type { Observation, Watch, WatchContext } from './watch.js'

/** What has been told of an error of a joint. */
const NOTHING = 0
const WARNED = 1
const FAILED = 2
/** Periods to each side from which speed and acceleration of the setpoints are taken: few enough that those of the next period are there. */
const SPAN = 2
const FOLLOWING = 0
const HIDDEN = 1

export class ReversalWatch implements Watch {
  readonly kinds = ['setpoint', 'feedback', 'tick', 'stage', 'stop', 'end'] as const
  readonly #c: WatchContext<WatchSettings['reversal']>
  readonly #setpoints: Setpoints
  readonly #fits: readonly Hysteresis[]
  readonly #errors = new Float64Array(2)
  readonly #index: Int32Array
  /** By joint: direction of its setpoints, and rad, where they last turned round. */
  readonly #direction: Int8Array
  readonly #turned: Float64Array
  readonly #least: number
  /** By joint and error: NOTHING, WARNED or FAILED. */
  readonly #told: Int8Array
  #witness: readonly number[] | null = null
  #witnessed = false
  #on = false
  /** ns, the end */
  #t: Nanos = 0

  constructor(context: WatchContext<WatchSettings['reversal']>) {
    this.#c = context
    const { rig, settings } = context
    const n = rig.joints.length
    this.#setpoints = new Setpoints(n, 2 * SPAN + 2)
    this.#fits = rig.joints.map(() => new Hysteresis(2))
    this.#index = new Int32Array(n).fill(-1)
    this.#direction = new Int8Array(n)
    this.#turned = new Float64Array(n)
    this.#told = new Int8Array(2 * n)
    this.#least = settings.learn / rig.control.period / 2
  }

  see(o: Observation): void {
    switch (o.kind) {
      case 'setpoint':
        this.#setpoints.put(o.joint, o.index, o.position)
        return
      case 'feedback':
        if (this.#on && o.index > this.#index[o.joint]!) this.#feedback(o.joint, o.index, o.position, o.t)
        return
      case 'tick':
        this.#witness = o.witness
        if (o.witness !== null) this.#witnessed = true
        return
      case 'stage':
        this.#on = isOperation(o.stage)
        if (!this.#on) this.#direction.fill(0)
        return
      case 'stop':
        this.#on = false
        return
      case 'end':
        this.#t = o.t
        return
    }
  }

  close(): void {
    for (const { index } of this.#c.rig.joints) this.#judge(index, this.#t)
  }

  figures(): Figure[] {
    const { rig, settings, scenario } = this.#c
    const limit = settings.warning
    const seen = rig.joints.filter(({ index }) => !Number.isNaN(this.#of(index, HIDDEN))).length
    return [
      {
        place: '',
        name: 'joints whose play behind the encoder was seen',
        value: seen,
        unit: 'count',
        limit: null,
      },
      ...rig.joints.flatMap(({ name: place, index }): Figure[] => {
        const following = this.#of(index, FOLLOWING)
        const hidden = this.#of(index, HIDDEN)
        const rows: Figure[] = []
        if (!Number.isNaN(following)) {
          const judged = scenario.plant === 'dry' ? limit : null
          rows.push({
            place,
            name: 'reversal error, setpoint to feedback',
            value: following,
            unit: 'rad',
            limit: judged,
          })
        }
        if (!Number.isNaN(hidden))
          rows.push({ place, name: 'reversal error, behind the encoder', value: hidden, unit: 'rad', limit })
        return rows
      }),
    ]
  }

  /** rad, without sign; NaN: not known */
  #of(joint: number, which: number): number {
    const fit = this.#fits[joint]!
    if (which === HIDDEN && !this.#witnessed) return Number.NaN
    if (fit.ahead < this.#least || fit.back < this.#least) return Number.NaN
    return Math.abs(fit.reversal(which))
  }

  #feedback(j: number, index: number, position: number, t: Nanos): void {
    this.#index[j] = index
    const setpoints = this.#setpoints
    const s = setpoints.paired(j, index)
    if (!(index - 1 - SPAN > 0) || Number.isNaN(s)) return
    const before = setpoints.at(j, index - 1 - SPAN)
    const after = setpoints.at(j, index - 1 + SPAN)
    const h = SPAN * this.#c.rig.control.period
    const v = (after - before) / (2 * h)
    const direction = Math.sign(v)
    if (direction !== 0 && direction !== this.#direction[j]) {
      this.#direction[j] = direction
      this.#turned[j] = s
      this.#judge(j, t)
    }
    const { after: far, speed } = this.#c.settings
    if (Math.abs(v) < speed || Math.abs(s - this.#turned[j]!) < far) return
    this.#errors[FOLLOWING] = s - position
    this.#errors[HIDDEN] = this.#witness === null ? 0 : position - this.#witness[j]!
    this.#fits[j]!.see(s, v, (after - 2 * s + before) / (h * h), this.#errors)
  }

  #judge(joint: number, t: Nanos): void {
    this.#judgeOne(joint, HIDDEN, t)
    if (this.#c.scenario.plant === 'dry') this.#judgeOne(joint, FOLLOWING, t)
  }

  #judgeOne(joint: number, which: number, t: Nanos): void {
    const { settings, rig } = this.#c
    const value = this.#of(joint, which)
    const failure = value > settings.failure
    const found = failure ? FAILED : value > settings.warning ? WARNED : NOTHING
    if (found <= this.#told[2 * joint + which]!) return
    this.#told[2 * joint + which] = found
    const told: Omit<Finding, 'watch' | 'quantity' | 'says' | 'look'> = {
      severity: failure ? 'failure' : 'warning',
      place: rig.joints[joint]!.name,
      t,
      value,
      limit: failure ? settings.failure : settings.warning,
      unit: 'rad',
      why: 'The blade is elsewhere than planned by that much times its distance, and knocks from one side to the other at each reversal.',
      stop: null,
    }
    if (which === HIDDEN) {
      this.#c.report({
        ...told,
        quantity: 'reversal error behind the encoder',
        says: 'Where the joint truly was, beside what its encoder said, depended on the direction from which it had come.',
        look: 'Look for play in gear, coupling and bearings between the encoder and the link.',
      })
      return
    }
    this.#c.report({
      ...told,
      quantity: 'reversal error',
      says: 'How far the joint was off its setpoint, lag removed, depended on the direction from which it had come.',
      look: 'Look for play or friction between motor and encoder, then at the stiffness of the position loop.',
    })
  }
}
