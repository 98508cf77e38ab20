/**
 * What the arms are told: setpoints as they go out on the buses, whoever sends them, and as the harness's own driver gave them.
 *
 * From approach to park each joint's setpoints are held against its limits (setpoint-course.ts) and the beat (setpoint-beat.ts); in the play
 * against what the command asks of the arm (setpoint-rest.ts). When a drive begins to follow, its setpoint must be where the joint stands.
 *
 * The last gate refuses most of this before it is sent. This watch sees it too where no gate stands between: a driver with a bus of its own.
 */
import type { Nanos } from '../clock.js'
import type { Figure, Finding, Stage, StopCategory } from '../files/event.js'
import type { Joint } from '../files/rig.js'
import { Alarm } from './alarm.js'
import { SetpointBeat } from './setpoint-beat.js'
import { type CourseQuantity, SetpointCourse } from './setpoint-course.js'
import {
  COURSE,
  IDLE,
  NO_NUMBER,
  NO_SETPOINT,
  RAMP,
  REPEATED,
  RESTING,
  SILENT,
  STEP,
  UNEVEN,
} from './setpoint-findings.js'
import { SetpointRamp } from './setpoint-ramp.js'
import { SetpointRest } from './setpoint-rest.js'
import type { WatchSettings } from './settings.js'
import { isOperation } from './tracking.js'
import type { Observation, Watch, WatchContext } from './watch.js'

/** rad: ticks carry positions rounded to 1e-6 */
const TICK_ROUNDING = 0.5e-6
/** Setpoints of a joint that must have been told before a share of them means anything. */
const LEAST_TOLD = 100
/** m/s that is no speed yet: where the ramp has only just begun, a multiple of it is nothing. */
const CRAWL = 0.03

type Words = (typeof COURSE)[CourseQuantity]

export class SetpointWatch implements Watch {
  readonly kinds = [
    'setpoint',
    'tick',
    'feedback',
    'state',
    'command',
    'withheld',
    'stage',
    'stop',
    'end',
  ] as const
  readonly #c: WatchContext<WatchSettings['setpoints']>
  readonly #wire: SetpointCourse
  readonly #own: SetpointCourse
  readonly #beat: SetpointBeat
  readonly #rests: SetpointRest[]
  readonly #ramps: readonly SetpointRamp[]
  /** [joint] its arm, and its place there */
  readonly #arm: Int32Array
  readonly #place: Int32Array
  /** [arm] m that may be asked for while one joint stands; Infinity: a joint of it may be idle */
  readonly #idle: readonly number[]
  readonly #alarms: Readonly<Record<CourseQuantity | 'number' | 'resting' | 'idle' | 'ramp', Alarm>>
  /** rad, last setpoint and feedback of each joint; NaN: none yet */
  readonly #setpoint: Float64Array
  readonly #position: Float64Array
  readonly #following: Uint8Array
  /** 1: a setpoint of the joint was beyond a limit, so that its alarms are kept up to date */
  readonly #beyond: Uint8Array
  /** rad, of the joints that began to follow: their setpoint's greatest distance from them */
  readonly #step: Float64Array
  readonly #silentTicks: number
  #noNumber = 0
  #operating = false
  #playing = false
  /** The change of acceleration counts. */
  #smooth = false
  #t: Nanos = 0

  constructor(context: WatchContext<WatchSettings['setpoints']>) {
    this.#c = context
    const { rig, settings } = context
    const { joints, arms } = rig
    const n = joints.length
    const counts = Float64Array.from(joints, countOf)
    this.#wire = new SetpointCourse(
      rig,
      counts.map((c) => c / 2),
      settings.rise,
    )
    this.#own = new SetpointCourse(rig, new Float64Array(n).fill(TICK_ROUNDING), settings.rise)
    this.#beat = new SetpointBeat(counts, rig.control.period, settings.beat)
    this.#rests = arms.map((arm) => new SetpointRest(rig, arm))
    this.#ramps = arms.map((arm) => new SetpointRamp(rig, arm))
    this.#arm = Int32Array.from(joints, (j) => j.arm)
    this.#place = Int32Array.from(joints, (j) => arms[j.arm]!.joints.indexOf(j.index))
    // Arms with joints to spare may rest one of them.
    this.#idle = arms.map((arm) =>
      arm.joints.length > arm.tool.constrained.length
        ? Number.POSITIVE_INFINITY
        : settings.idle * rig.stroke.length,
    )
    this.#alarms = {
      position: new Alarm(n),
      speed: new Alarm(n),
      acceleration: new Alarm(n),
      'change of acceleration': new Alarm(n),
      number: new Alarm(n),
      resting: new Alarm(arms.length),
      idle: new Alarm(n),
      ramp: new Alarm(arms.length),
    }
    this.#setpoint = new Float64Array(n).fill(Number.NaN)
    this.#position = new Float64Array(n).fill(Number.NaN)
    this.#following = new Uint8Array(n)
    this.#beyond = new Uint8Array(n)
    this.#step = new Float64Array(n)
    const silent = settings.silent ?? rig.link.staleAfter
    this.#silentTicks = Math.floor(silent / rig.control.period + 1e-9) + 1
  }

  see(o: Observation): void {
    switch (o.kind) {
      case 'setpoint':
        this.#see(o.joint, o.index, o.position, o.t)
        return
      case 'tick':
        this.#t = o.t
        this.#tick(o.k, o.setpoints, o.t)
        return
      case 'feedback':
        this.#position[o.joint] = o.position
        return
      case 'state':
        this.#follows(o.joint, o.follows && o.state === 'operation enabled', o.t)
        return
      case 'command':
        for (const rest of this.#rests) rest.command(o.surge, o.yaw)
        for (const ramp of this.#ramps) ramp.command(o.surge, o.yaw)
        return
      case 'withheld':
        for (const rest of this.#rests) rest.withhold(o.begins)
        return
      case 'stage':
        this.#enter(o.stage)
        return
      case 'stop':
        this.#operating = this.#playing = false
        return
      case 'end':
        this.#t = o.t
        return
    }
  }

  close(): void {
    const { joints } = this.#c.rig
    const { repeated, uneven } = this.#c.settings
    for (const { index: j, name } of joints) {
      const share = this.#repeatedShare(j)
      if (this.#beat.told[j]! >= LEAST_TOLD && share > repeated)
        this.#tell(REPEATED, name, 'failure', share, repeated, null)
    }
    const share = this.#unevenShare
    if (this.#beat.due >= LEAST_TOLD * joints.length && share > uneven)
      this.#tell(UNEVEN, '', 'warning', share, uneven, null)
  }

  figures(): Figure[] {
    const { rig, settings } = this.#c
    const { period } = rig.control
    const silent = settings.silent ?? rig.link.staleAfter
    const whole: Figure[] = [
      { place: '', name: UNEVEN.quantity, value: this.#unevenShare, unit: 'share', limit: settings.uneven },
      {
        place: '',
        name: 'setpoints absent, longest',
        value: this.#beat.mostSilent * period,
        unit: 's',
        limit: silent,
      },
      {
        place: '',
        name: 'setpoints that were no numbers',
        value: this.#noNumber,
        unit: 'count',
        limit: null,
      },
    ]
    const arms = rig.arms.map(
      ({ name: place, index }): Figure => ({
        place,
        name: RESTING.quantity,
        value: this.#rests[index]!.mostWay,
        unit: 'm',
        limit: settings.still,
      }),
    )
    const joints = rig.joints.flatMap(({ name: place, index: j, limits }): Figure[] => {
      const fine = this.#own.peakAcceleration[j]! > 0 ? this.#own : this.#wire
      const { peakAcceleration: most, peakChange: change } = fine
      return [
        { place, name: STEP.quantity, value: this.#step[j]!, unit: 'rad', limit: settings.step },
        {
          place,
          name: 'setpoint acceleration, peak',
          value: most[j]!,
          unit: 'rad/s2',
          limit: limits.acceleration,
        },
        {
          place,
          name: 'change of setpoint acceleration in a period, peak',
          value: change[j]!,
          unit: 'rad/s2',
          limit: fine.changeLimit(j),
        },
        {
          place,
          name: REPEATED.quantity,
          value: this.#repeatedShare(j),
          unit: 'share',
          limit: settings.repeated,
        },
      ]
    })
    return [...whole, ...arms, ...joints]
  }

  get #unevenShare(): number {
    const { due, missing, doubled, off } = this.#beat
    return due === 0 ? 0 : (missing + doubled + off) / due
  }

  #repeatedShare(j: number): number {
    const told = this.#beat.told[j]!
    return told === 0 ? 0 : this.#beat.repeated[j]! / told
  }

  #enter(stage: Stage): void {
    const operating = isOperation(stage)
    if (operating && !this.#operating) {
      this.#beat.reset()
      this.#own.reset()
      // Until now setpoints followed the measured position, noise and all: the first may not be far from the last, that is all.
      this.#wire.begin()
    }
    this.#operating = operating
    this.#playing = stage === 'play'
    this.#smooth = operating && stage !== 'approach'
    for (const rest of this.#rests) rest.reset()
    for (const ramp of this.#ramps) ramp.reset()
  }

  #see(j: number, index: number, position: number, t: Nanos): void {
    if (position !== this.#setpoint[j]!) this.#rests[this.#arm[j]!]!.change(this.#place[j]!)
    this.#setpoint[j] = position
    this.#ramps[this.#arm[j]!]!.put(this.#place[j]!, position)
    if (this.#operating) this.#beat.put(j, index, position, t)
    this.#judge(this.#wire, j, index, position, t)
  }

  #tick(k: number, setpoints: readonly number[] | null, t: Nanos): void {
    if (setpoints !== null) {
      for (let j = 0; j < setpoints.length; j++) {
        if (Number.isFinite(setpoints[j]!)) this.#judge(this.#own, j, k, setpoints[j]!, t)
        else this.#isNoNumber(j, t)
      }
    }
    if (!this.#operating) return
    const j = this.#beat.tick(this.#silentTicks)
    if (j >= 0) this.#silent(j)
    if (!this.#playing) return
    for (let arm = 0; arm < this.#rests.length; arm++) {
      const rest = this.#rests[arm]!
      rest.tick()
      const { rig, settings } = this.#c
      this.#idles(arm, t)
      this.#setsOff(arm, t)
      if (!this.#alarms.resting.rises(arm, rest.way > settings.still ? 2 : 0, t)) continue
      this.#tell(RESTING, rig.arms[arm]!.name, 'failure', rest.way, settings.still, null)
    }
  }

  #setsOff(arm: number, t: Nanos): void {
    const ramp = this.#ramps[arm]!
    ramp.tick()
    const limit = this.#c.settings.ramp * ramp.most + CRAWL
    if (!this.#alarms.ramp.rises(arm, ramp.speed > limit ? 2 : 0, t)) return
    this.#tell(RAMP, this.#c.rig.arms[arm]!.name, 'failure', ramp.speed, limit, null)
  }

  #idles(arm: number, t: Nanos): void {
    const { alone } = this.#rests[arm]!
    const { joints } = this.#c.rig.arms[arm]!
    const limit = this.#idle[arm]!
    for (let i = 0; i < alone.length; i++) {
      if (!this.#alarms.idle.rises(joints[i]!, alone[i]! > limit ? 2 : 0, t)) continue
      this.#tell(IDLE, this.#name(joints[i]!), 'failure', alone[i]!, limit, null)
    }
  }

  #judge(course: SetpointCourse, j: number, index: number, position: number, t: Nanos): void {
    const found = course.put(j, index, position, this.#operating)
    if (!this.#operating || (found === null && this.#beyond[j] === 0)) return
    this.#beyond[j] = 1
    const alarms = this.#alarms
    for (const quantity of QUANTITIES) {
      const jerk = quantity === 'change of acceleration'
      // A driver with a bus of its own may begin its approach by following the measured position a little longer.
      const beyond = quantity === found && (!jerk || this.#smooth)
      if (!alarms[quantity].rises(j, beyond ? 2 : 0, t)) continue
      // A jerk shakes; what breaks a limit of the joint is a danger.
      const stop = jerk ? null : this.#c.rig.stop.category
      this.#t = t
      this.#tell(COURSE[quantity], this.#name(j), 'failure', course.value, course.limit, stop)
    }
  }

  #isNoNumber(j: number, t: Nanos): void {
    this.#noNumber++
    if (!this.#operating || !this.#alarms.number.rises(j, 2, t)) return
    this.#tell(NO_NUMBER, this.#name(j), 'failure', Number.NaN, 0, this.#c.rig.stop.category)
  }

  #silent(j: number): void {
    const { rig, settings } = this.#c
    const limit = settings.silent ?? rig.link.staleAfter
    const all = rig.joints.every((o) => this.#beat.silent[o.index]! >= this.#beat.silent[j]!)
    const value = this.#silentTicks * rig.control.period
    this.#tell(SILENT, all ? '' : this.#name(j), 'failure', value, limit, rig.stop.category)
  }

  #follows(j: number, follows: boolean, t: Nanos): void {
    const began = follows && this.#following[j] === 0
    this.#following[j] = follows ? 1 : 0
    if (!began) return
    const { rig, settings } = this.#c
    const { category } = rig.stop
    this.#t = t
    if (Number.isNaN(this.#setpoint[j]!)) {
      this.#tell(NO_SETPOINT, this.#name(j), 'failure', 0, 1, category)
      return
    }
    const step = Math.abs(this.#setpoint[j]! - this.#position[j]!)
    if (step > this.#step[j]!) this.#step[j] = step
    if (step > settings.step) this.#tell(STEP, this.#name(j), 'failure', step, settings.step, category)
  }

  #name(j: number): string {
    return this.#c.rig.joints[j]!.name
  }

  #tell(
    words: Words,
    place: string,
    severity: Finding['severity'],
    value: number,
    limit: number,
    stop: StopCategory | null,
  ): void {
    this.#c.report({ ...words, severity, place, t: this.#t, value, limit, stop })
  }
}

const QUANTITIES = Object.keys(COURSE) as readonly CourseQuantity[]

/** rad of one count of the setpoints of a joint */
function countOf({ wire }: Joint): number {
  return 1 / (wire.protocol === 'frames' ? wire.setpoint.countsPerRadian : wire.countsPerRadian)
}
