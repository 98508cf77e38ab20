/**
 * Following error: setpoint minus feedback, paired by SYNC index (setpoints.ts), raw and with the joint's lag removed.
 *
 * The lag is set in the rig, or learned once (lag.ts) and then frozen. Until it is known, the error is the distance of the feedback from
 * the span of all setpoints that any permitted lag could explain. With the lag known it is the difference to the
 * setpoint that long ago. An error beyond the window for the time-out is a failure and stops the arms. A lag beyond
 * its limit is a failure too, and only the limit is removed: a slow drive cannot hide in its own lag.
 */
import type { Nanos } from '../clock.js'
import type { Figure, Stage } from '../files/event.js'
import type { ShownUnit } from '../units.js'
import { Alarm } from './alarm.js'
import { Histogram } from './histogram.js'
import { LagLearner } from './lag.js'
import { Setpoints } from './setpoints.js'
import type { WatchSettings } from './settings.js'
import type { Observation, Watch, WatchContext } from './watch.js'

export class TrackingWatch implements Watch {
  readonly kinds = ['setpoint', 'feedback', 'stage', 'stop', 'escalation'] as const
  readonly #c: WatchContext<WatchSettings['tracking']>
  readonly #setpoints: Setpoints
  readonly #learners: (LagLearner | null)[]
  /** periods; NaN while unknown */
  readonly #lag: Float64Array
  /** SYNC index since which the error is beyond the window, or -1 */
  readonly #since: Int32Array
  readonly #index: Int32Array
  readonly #raw: Histogram[]
  readonly #removed: Histogram[]
  readonly #alarm: Alarm
  /** Longest permitted lag and time-out, in periods. */
  readonly #most: number
  readonly #timeout: number
  #judging = false
  #held = false

  constructor(context: WatchContext<WatchSettings['tracking']>) {
    this.#c = context
    const { rig, settings } = context
    const { period } = rig.control
    const n = rig.joints.length
    this.#most = settings.lag.most / period
    this.#timeout = settings.timeout / period - 1e-9
    this.#setpoints = new Setpoints(n, Math.ceil(2 * this.#most) + 2)
    this.#lag = Float64Array.from(rig.joints, (j) => (settings.lag.set[j.name] ?? Number.NaN) / period)
    this.#learners = rig.joints.map((j) =>
      Number.isNaN(this.#lag[j.index]!) ? new LagLearner(settings.lag, period) : null,
    )
    this.#since = new Int32Array(n).fill(-1)
    this.#index = new Int32Array(n).fill(-1)
    this.#raw = rig.joints.map(() => new Histogram())
    this.#removed = rig.joints.map(() => new Histogram())
    this.#alarm = new Alarm(n)
  }

  see(o: Observation): void {
    if (o.kind === 'feedback') this.#feedback(o.joint, o.index, o.position, o.t)
    else if (o.kind === 'setpoint') this.#setpoints.put(o.joint, o.index, o.position)
    else if (o.kind === 'stage') this.#enter(o.stage)
    else if (o.kind === 'stop' || o.kind === 'escalation') {
      // Joints that are held follow setpoints still.
      this.#held = o.category === 2
      if (!this.#held) this.#judge(false)
    }
  }

  close(): void {}

  figures(): Figure[] {
    const { rig, settings } = this.#c
    const { period } = rig.control
    const { lag, window } = settings
    return rig.joints.flatMap(({ name: place, index: j }) => {
      const row = (name: string, value: number, unit: ShownUnit, limit: number | null): Figure => ({
        place,
        name,
        value,
        unit,
        limit,
      })
      const raw = this.#raw[j]!
      const rows = [
        row('following error, raw, peak', raw.max, 'rad', null),
        row('following error, raw, 99 %', raw.quantile(0.99), 'rad', null),
        row('following error, raw, RMS', raw.rms, 'rad', null),
      ]
      if (Number.isNaN(this.#lag[j]!)) {
        return [...rows, row('motion to learn the lag from', this.#learners[j]!.learned, 's', lag.learn)]
      }
      const removed = this.#removed[j]!
      return [
        ...rows,
        row('following error, lag removed, peak', removed.max, 'rad', window),
        row('following error, lag removed, 99 %', removed.quantile(0.99), 'rad', window),
        row('following error, lag removed, RMS', removed.rms, 'rad', window),
        row(this.#learners[j] ? 'lag, learned' : 'lag, set', this.#lag[j]! * period, 's', lag.most),
      ]
    })
  }

  #enter(stage: Stage): void {
    const stopped = stage === 'stopping' || stage === 'stopped'
    this.#judge(isOperation(stage) || (this.#held && stopped))
    if (!stopped) this.#held = false
  }

  #judge(on: boolean): void {
    this.#judging = on
    if (!on) this.#since.fill(-1)
  }

  #feedback(j: number, index: number, position: number, t: Nanos): void {
    if (!this.#judging || index === this.#index[j]) return
    this.#index[j] = index
    const paired = this.#setpoints.paired(j, index)
    if (Number.isNaN(paired)) return
    this.#raw[j]!.add(Math.abs(paired - position))
    let lag = this.#lag[j]!
    if (Number.isNaN(lag)) {
      const learner = this.#learners[j]!
      if (learner.see(this.#setpoints, j, index, position)) {
        lag = learner.lag
        this.#lag[j] = lag
        if (lag > this.#most) this.#tooSlow(j, t)
      }
    }
    const error = Number.isNaN(lag)
      ? this.#leastError(j, index - 1, position)
      : this.#setpoints.between(j, index - 1 - Math.min(lag, this.#most)) - position
    if (!Number.isNaN(lag)) this.#removed[j]!.add(Math.abs(error))
    this.#hold(j, index, error, t)
  }

  #hold(j: number, index: number, error: number, t: Nanos): void {
    const { window } = this.#c.settings
    if (Math.abs(error) <= window) {
      this.#since[j] = -1
      this.#alarm.rises(j, 0, t)
      return
    }
    if (this.#since[j]! < 0) this.#since[j] = index
    if (index - this.#since[j]! < this.#timeout || !this.#alarm.rises(j, 2, t)) return
    const { rig, settings } = this.#c
    const ms = Math.round(settings.timeout * 1000)
    this.#c.report({
      severity: 'failure',
      place: rig.joints[j]!.name,
      t,
      quantity: 'following error',
      value: Math.abs(error),
      limit: window,
      unit: 'rad',
      says: `The joint was off its setpoint by more than the window for ${ms} ms.`,
      why: 'A joint that does not follow is blocked, overloaded or not driven, and the blade is elsewhere than planned.',
      look: 'Look for a blocked or slipping joint, then at torque limit, drive state and lag of this joint.',
      stop: rig.stop.category,
    })
  }

  /** Distance of the feedback from the span of setpoints within reach of the longest permitted lag. */
  #leastError(j: number, index: number, position: number): number {
    let low = Number.POSITIVE_INFINITY
    let high = Number.NEGATIVE_INFINITY
    for (let i = index - Math.ceil(this.#most); i <= index; i++) {
      const s = this.#setpoints.at(j, i)
      if (s < low) low = s
      if (s > high) high = s
    }
    return position < low ? low - position : position > high ? high - position : 0
  }

  #tooSlow(j: number, t: Nanos): void {
    const { rig, settings } = this.#c
    this.#c.report({
      severity: 'failure',
      place: rig.joints[j]!.name,
      t,
      quantity: 'lag',
      value: this.#lag[j]! * rig.control.period,
      limit: settings.lag.most,
      unit: 's',
      says: 'The joint follows its setpoint later than permitted.',
      why: 'A late joint lags in a stop as well, and both blades no longer move together.',
      look: 'Look at the position loop and the interpolation period of the drive, then at the load.',
      stop: null,
    })
  }
}

/** Stages in which the drives are to follow setpoints that move. */
export function isOperation(stage: Stage): boolean {
  return stage === 'approach' || stage === 'play' || stage === 'park'
}
