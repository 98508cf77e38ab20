/**
 * The driver under test as seen from outside: how long it takes to answer, how evenly, how old the command is that it acts on,
 * and whether it comes to rest when commands cease. The last holds for the reference driver too.
 *
 * Latency is exact where answers carry the count of their command. A new command counts as acted on with the first answer to it,
 * or to a later one, that changes a setpoint: from rest that is when the driver begins to move. All from events, so that a judge
 * finds what the run found.
 *
 * An arm at rest that is asked to move and does not (first-motion.ts) is told, whoever drives.
 */
import type { Nanos } from '../clock.js'
import type { Figure } from '../files/event.js'
import type { Rig } from '../files/rig.js'
import type { Scenario } from '../files/scenario.js'
import { parkTimes } from '../motion/blade.js'
import { showQuantity } from '../units.js'
import { Alarm } from './alarm.js'
import { FirstMotion } from './first-motion.js'
import { Histogram } from './histogram.js'
import type { WatchSettings } from './settings.js'
import type { Observation, Watch, WatchContext } from './watch.js'

/** Commands whose times are kept; a driver that is farther behind has been stopped. */
const KEPT = 8192
/** ns without a change of a setpoint */
const AT_REST: Nanos = 2e8
/** s beyond what the rig's ramps and dwell make: filters of the driver's own; common practice, no source */
const REST_MARGIN = 1

export class DriverWatch implements Watch {
  readonly kinds: Watch['kinds']
  /** There is a driver under test, or commands ceased, or it was late. */
  seen: boolean
  readonly #c: WatchContext<WatchSettings['driver']>
  readonly #ownsBus: boolean
  /** Whether it comes to rest without commands is of interest. */
  readonly #ceases: boolean
  readonly #arms: readonly FirstMotion[]
  readonly #armOf: Int32Array
  /** rad, [joint] the last that went out */
  readonly #sent: Float64Array
  /** s */
  readonly #react: number
  readonly #alarm: Alarm
  #playing = false
  readonly #asked = new Float64Array(KEPT)
  readonly #answer = new Histogram()
  readonly #firstChange = new Histogram()
  readonly #age = new Histogram()
  readonly #interval = new Histogram()
  /** Sum and count of the times between answers, s. */
  #intervals = 0
  #intervalTime = 0
  #lastAnswer: Nanos = -1
  #answered = 0
  /** The oldest new command on which the driver has not acted; its count is known with the next command that is sent. */
  #newAt: Nanos = -1
  #newCount = 0
  #isNew = false
  /** rad, at the last tick that had some */
  readonly #setpoints: Float64Array
  /** rad, in one period: slower is at rest */
  readonly #still: number
  readonly #within: number
  #atRest = false
  #withheldAt: Nanos = -1
  #movedAt: Nanos = -1
  #told = false
  /** s, longest of all times that commands ceased; -1: they never did */
  #rest = -1

  constructor(context: WatchContext<WatchSettings['driver']>) {
    const { rig, scenario } = context
    this.#c = context
    const { link } = rig.driver
    this.seen = link !== null
    const ceases = scenario.commands.some((c) => c.ceases)
    this.#ownsBus = link?.ownsBus ?? false
    const told: Watch['kinds'] = ['command', 'withheld', 'stage', 'stop', 'setpoint', 'tick']
    // The reference driver answers nothing.
    this.kinds = link ? ['asked', 'answered', ...told] : told
    this.#ceases = link !== null || ceases
    this.#arms = rig.arms.map((arm) => new FirstMotion(rig, arm))
    this.#sent = new Float64Array(rig.joints.length).fill(Number.NaN)
    this.#armOf = Int32Array.from(rig.joints, (j) => j.arm)
    this.#react = context.settings.react + (link?.answer ?? 0)
    this.#alarm = new Alarm(rig.arms.length)
    this.#setpoints = new Float64Array(rig.joints.length).fill(Number.NaN)
    this.#still = rig.stop.still.speed * rig.control.period
    this.#within = link?.rest ?? restOf(rig, scenario)
  }

  see(o: Observation): void {
    switch (o.kind) {
      case 'asked':
        this.#asked[o.n % KEPT] = o.t
        if (this.#isNew) {
          this.#isNew = false
          if (this.#newAt < 0) {
            this.#newAt = o.t
            this.#newCount = o.n
          }
        }
        return
      case 'answered':
        this.#hear(o.t, o.n, o.changed)
        return
      case 'command':
        this.#isNew = true
        this.#atRest = o.t - this.#movedAt > AT_REST
        for (const arm of this.#arms) arm.command(o.surge, o.yaw)
        return
      case 'withheld':
        this.seen = true
        // It is to come to rest, and may take its time when commands come again.
        for (const arm of this.#arms) arm.reset()
        this.#withheldAt = o.begins ? o.t : -1
        this.#movedAt = o.t
        this.#told = false
        return
      case 'stop':
        this.#playing = false
        return
      case 'stage':
        this.#playing = o.stage === 'play'
        for (const arm of this.#arms) arm.reset()
        // Between two starts nothing is asked for, and nothing is answered.
        if (o.stage !== 'park') this.#forget()
        return
      case 'tick':
        if (o.setpoints && !this.#ownsBus) this.#follow(o.t, o.setpoints)
        if (this.#playing) this.#awaitMotion(o.t)
        return
      case 'setpoint':
        if (o.position !== this.#sent[o.joint]!) this.#arms[this.#armOf[o.joint]!]!.moves()
        this.#sent[o.joint] = o.position
        if (!this.#ownsBus) return
        if (this.#moves(o.joint, o.position)) {
          this.#movedAt = o.t
          // Without a count only a change from rest tells on what it acts.
          if (this.#atRest) this.#actedOn(o.t)
        }
        this.#judgeRest(o.t)
        return
    }
  }

  close(): void {}

  figures(): Figure[] {
    const figures: Figure[] = []
    const { link } = this.#c.rig.driver
    figures.push(
      ...spread('command to its answer', this.#answer, link?.answer ?? null),
      ...spread('command to first setpoint change', this.#firstChange, null),
    )
    if (this.seen) {
      const most = Math.max(...this.#arms.map((arm) => arm.most))
      const name = "first motion behind the rig's ramp, greatest"
      figures.push({ place: '', name, value: most, unit: 's', limit: this.#react })
    }
    if (this.#answer.count > 0) {
      figures.push(
        ...spread('age of the command acted on', this.#age, null),
        {
          ...{ place: '', name: 'rate of answers', unit: 'Hz', limit: null },
          value: this.#intervalTime > 0 ? this.#intervals / this.#intervalTime : 0,
        },
        ...spread('time between answers', this.#interval, null),
      )
    }
    if (this.#rest >= 0)
      figures.push({
        ...{ place: '', name: 'commands ceased to rest', unit: 's' },
        ...{ value: this.#rest, limit: this.#within },
      })
    return figures
  }

  #hear(t: Nanos, n: number, changed: boolean): void {
    if (n > this.#answered) {
      this.#answer.add((t - this.#asked[n % KEPT]!) / 1e9)
      if (this.#lastAnswer >= 0) {
        const interval = (t - this.#lastAnswer) / 1e9
        this.#intervals++
        this.#intervalTime += interval
        this.#interval.add(interval)
      }
      this.#lastAnswer = t
      this.#answered = n
    }
    if (changed && n >= this.#newCount) this.#actedOn(t)
  }

  #actedOn(t: Nanos): void {
    if (this.#newAt >= 0) this.#firstChange.add((t - this.#newAt) / 1e9)
    this.#newAt = -1
  }

  #follow(t: Nanos, setpoints: readonly number[]): void {
    if (this.#answered > 0 && this.#lastAnswer >= 0)
      this.#age.add((t - this.#asked[this.#answered % KEPT]!) / 1e9)
    for (let i = 0; i < setpoints.length; i++) if (this.#moves(i, setpoints[i]!)) this.#movedAt = t
    this.#judgeRest(t)
  }

  #moves(joint: number, position: number): boolean {
    const way = Math.abs(position - this.#setpoints[joint]!)
    this.#setpoints[joint] = position
    return way > this.#still
  }

  #awaitMotion(t: Nanos): void {
    this.#arms.forEach((arm, i) => {
      arm.tick()
      if (!this.#alarm.rises(i, arm.late > this.#react ? 2 : 0, t)) return
      this.seen = true
      this.#c.report({
        place: this.#c.rig.arms[i]!.name,
        severity: 'failure',
        t,
        quantity: 'command to first motion',
        value: arm.late,
        limit: this.#react,
        unit: 's',
        says: 'The arm was at rest, was asked to move, and its setpoints stood still.',
        why: 'Who steers by hand overshoots when the craft answers late, and a command to evade comes too late.',
        look: 'Look how long a command lies in queues and filters of the driver and on the way to it, and at the period of its loop.',
        stop: null,
      })
    })
  }

  #judgeRest(t: Nanos): void {
    if (!this.#ceases || this.#withheldAt < 0) return
    const rest = (this.#movedAt - this.#withheldAt) / 1e9
    this.#rest = Math.max(this.#rest, rest)
    if (rest <= this.#within || this.#told) return
    this.#told = true
    this.#c.report({
      place: '',
      severity: 'failure',
      t,
      quantity: 'time to rest without commands',
      value: rest,
      limit: this.#within,
      unit: 's',
      says: `The driver still moved the arms ${showQuantity(rest, 's')} after commands had ceased.`,
      why: 'A craft whose helm has lost its voice must not go on by itself.',
      look: "Look at the driver's time-out for commands, and at what it does then.",
      stop: this.#c.rig.stop.category,
    })
  }

  #forget(): void {
    this.#lastAnswer = -1
    this.#newAt = -1
    this.#isNew = false
    this.#setpoints.fill(Number.NaN)
  }
}

function spread(name: string, of: Histogram, limit: number | null): Figure[] {
  if (of.count === 0) return []
  const at = (which: string, value: number): Figure => ({
    ...{ place: '', name: `${name}, ${which}`, value, unit: 's', limit: null },
  })
  return [at('50 %', of.quantile(0.5)), at('99 %', of.quantile(0.99)), { ...at('greatest', of.max), limit }]
}

/**
 * s: from the greatest side speed of the scenario to zero by the rig's ramp (v/a + a/j), what may be left of a recovery, the dwell,
 * out of the water and to the park place, and a margin.
 */
function restOf(rig: Rig, scenario: Scenario): number {
  const { driver, craft, stroke } = rig
  const fastest = Math.max(
    0,
    ...scenario.commands.map((c) => Math.abs(c.surge) + (Math.abs(c.yaw) * craft.track) / 2),
  )
  const { acceleration, jerk, slip } = driver
  const ramp = ((1 + slip) * fastest) / acceleration + acceleration / jerk
  const park = parkTimes(
    stroke,
    rig.arms.map((arm) => arm.paddle),
  )
  return ramp + 0.5 / stroke.recovery + stroke.dwell + park.lift + park.carry + REST_MARGIN
}
