/**
 * Position, speed and acceleration of every joint against its limits.
 *
 * Position counts always, from the first feedback on. Speed and acceleration count while the bench moves the arms
 * (approach, play, park) and in a stop: unpowered arms moved by hand breach nothing. They come from least-squares
 * fits on SYNC time (motion/differentiator.ts); a missing SYNC's feedback starts the fits anew, and so does another position for
 * the same SYNC: one of the two answers the SYNC before, and which one is not known. The moment they are for lies half a window
 * back: a stated figure. Where the fits hardly ever come about the watch says so.
 *
 * Before the approach a joint whose drive follows is held where it began to follow: motion there is an own quantity.
 * One that does not follow yet may be moved by hand, or fall.
 *
 * Where a joint went beyond its limit of speed or acceleration and its setpoints asked for much less, the finding says so: the joint, its drive or
 * its feedback did that, not the driver.
 *
 * In a stop the joints are meant to slow down faster than in operation: acceleration against the motion is then a
 * figure, not a breach. It still is one when a stopping joint gains speed.
 */
import type { Nanos } from '../clock.js'
import type { Figure, Stage } from '../files/event.js'
import type { Joint } from '../files/rig.js'
import { accelerationNoiseGain, Differentiator, delay } from '../motion/differentiator.js'
import { type ShownUnit, showQuantity } from '../units.js'
import { Alarm, type Level } from './alarm.js'
import { Asked } from './asked.js'
import { positionNoise } from './noise.js'
import type { WatchSettings } from './settings.js'
import type { Observation, Watch, WatchContext } from './watch.js'

const HELD = 'motion before the approach'
type Quantity = 'position' | 'speed' | 'acceleration' | typeof HELD

const UNIT: Record<Quantity, ShownUnit> = {
  position: 'rad',
  speed: 'rad/s',
  acceleration: 'rad/s2',
  [HELD]: 'rad',
}
const WHY: Record<Quantity, string> = {
  position: 'Beyond its range a joint runs into its hard stop or its cable.',
  speed: 'Above its speed limit a joint cannot be stopped in the time that the bench assumes.',
  acceleration: 'Accelerations beyond the limit load gears and mount, and shake the craft.',
  [HELD]: 'A joint that jumps when its drive is enabled hits whoever still stands beside the arm.',
}
const LOOK: Record<Quantity, string> = {
  position: 'Look at the setpoint at that time, then at zero and sign of the joint.',
  speed: 'Look at the setpoints of the second before: a jump, or a path close to a singular pose.',
  acceleration: 'Look at the setpoints of the second before, then at mechanical play and blocking.',
  [HELD]:
    'Look who sent setpoints between enabling and the approach, then at the position loop of the drive.',
}
const LOOK_ELSEWHERE =
  'Look at this joint itself: what its feedback watch says, then blocking and play, then its drive (position loop, interpolation period, torque limit) and its mount.'
/** Times what setpoints asked for: a position loop that overshoots makes less. */
const UNASKED = 1.5
/** Floor of the acceleration's noise that is still fair beside the limit. */
const NOISE_SHARE = 0.25
/** Part of a moving joint's feedback with which its speed must be known. */
const LEAST_KNOWN = 0.5
/** s of motion before that is asked for. */
const LEAST_MOTION = 1

/** rad/s2: what the acceleration filter makes of encoder noise alone, in the stated number of standard deviations. */
export function accelerationFloor(
  joint: Joint,
  noiseCounts: number,
  period: number,
  s: WatchSettings['limits'],
) {
  const { window, sigmas } = s.acceleration
  return sigmas * positionNoise(joint, noiseCounts) * accelerationNoiseGain(window, period)
}

export class LimitsWatch implements Watch {
  readonly kinds = ['feedback', 'setpoint', 'state', 'stage', 'stop'] as const
  readonly #c: WatchContext<WatchSettings['limits']>
  readonly #alarms: Record<Quantity, Alarm>
  readonly #asked: Asked
  readonly #fast: Differentiator[]
  readonly #smooth: Differentiator[]
  readonly #index: Int32Array
  readonly #warnLow: Float64Array
  readonly #warnHigh: Float64Array
  readonly #low: Float64Array
  readonly #high: Float64Array
  readonly #speed: Float64Array
  readonly #acceleration: Float64Array
  readonly #stopDeceleration: Float64Array
  readonly #floors: number[]
  /** rad, last feedback, and where the joint began to follow: NaN while it does not */
  readonly #position: Float64Array
  readonly #heldAt: Float64Array
  /** rad, how far a held joint may be seen to move: two readings differ by their noise as well */
  readonly #heldWithin: Float64Array
  readonly #heldMotion: Float64Array
  /** Feedback of the moving joint, and how much of it made a speed. */
  readonly #told: Float64Array
  readonly #known: Float64Array
  #t: Nanos = 0
  #holding = false
  #doubted = false
  #moving = false
  #stopping = false

  constructor(context: WatchContext<WatchSettings['limits']>) {
    this.#c = context
    const { rig, settings } = context
    const { joints } = rig
    const { period } = rig.control
    const n = joints.length
    this.#alarms = {
      position: new Alarm(n),
      speed: new Alarm(n),
      acceleration: new Alarm(n),
      [HELD]: new Alarm(n),
    }
    this.#asked = new Asked(n, period)
    this.#fast = joints.map(() => new Differentiator(settings.speed.window, period))
    this.#smooth = joints.map(() => new Differentiator(settings.acceleration.window, period))
    this.#index = new Int32Array(n).fill(-2)
    // The warning margin of a range is held against half of it, from its middle.
    const inset = (j: Joint): number => ((1 - settings.warning) * (j.limits.upper - j.limits.lower)) / 2
    this.#warnLow = Float64Array.from(joints, (j) => j.limits.lower + inset(j))
    this.#warnHigh = Float64Array.from(joints, (j) => j.limits.upper - inset(j))
    this.#low = new Float64Array(n).fill(Number.POSITIVE_INFINITY)
    this.#high = new Float64Array(n).fill(Number.NEGATIVE_INFINITY)
    this.#speed = new Float64Array(n)
    this.#acceleration = new Float64Array(n)
    this.#stopDeceleration = new Float64Array(n)
    const noise = rig.simulation.feedback.noise
    this.#floors = joints.map((j) => accelerationFloor(j, noise, period, settings))
    const { sigmas } = settings.acceleration
    this.#position = new Float64Array(n).fill(Number.NaN)
    this.#heldAt = new Float64Array(n).fill(Number.NaN)
    this.#heldWithin = Float64Array.from(
      joints,
      (j) => settings.held + sigmas * Math.SQRT2 * positionNoise(j, noise),
    )
    this.#heldMotion = new Float64Array(n)
    this.#told = new Float64Array(n)
    this.#known = new Float64Array(n)
  }

  see(o: Observation): void {
    if (o.kind === 'feedback') this.#feedback(o.joint, o.index, o.position, o.t)
    else if (o.kind === 'setpoint') this.#asked.see(o.joint, o.index, o.position)
    else if (o.kind === 'state') this.#follows(o.joint, o.follows && o.state === 'operation enabled')
    else if (o.kind === 'stage') this.#enter(o.stage, o.t)
    else if (o.kind === 'stop') {
      this.#holding = false
      this.#moving = true
      this.#stopping = true
      // Where a joint was before the stop says nothing about one that is not heard of any more.
      this.#position.fill(Number.NaN)
    }
  }

  close(): void {
    const least = LEAST_MOTION / this.#c.rig.control.period
    this.#told.forEach((told, j) => {
      if (told >= least && this.#known[j]! < LEAST_KNOWN * told) this.#doubtSpeed(j, this.#known[j]! / told)
    })
  }

  figures(): Figure[] {
    const { rig, settings } = this.#c
    const { period } = rig.control
    const common: Figure[] = [
      figure('', 'delay of speed', delay(settings.speed.window, period), 's', null),
      figure('', 'delay of acceleration', delay(settings.acceleration.window, period), 's', null),
    ]
    return common.concat(
      rig.joints.flatMap(({ name, index: j, limits }) => {
        const seen = this.#low[j]! <= this.#high[j]!
        return [
          ...(seen ? [figure(name, 'lowest position', this.#low[j]!, 'rad', limits.lower)] : []),
          ...(seen ? [figure(name, 'highest position', this.#high[j]!, 'rad', limits.upper)] : []),
          figure(name, HELD, this.#heldMotion[j]!, 'rad', this.#heldWithin[j]!),
          figure(name, 'peak speed', this.#speed[j]!, 'rad/s', limits.speed),
          figure(name, 'peak acceleration', this.#acceleration[j]!, 'rad/s2', limits.acceleration),
          figure(name, 'peak deceleration in a stop', this.#stopDeceleration[j]!, 'rad/s2', null),
          figure(
            name,
            'noise floor of acceleration',
            this.#floors[j]!,
            'rad/s2',
            NOISE_SHARE * limits.acceleration,
          ),
        ]
      }),
    )
  }

  #enter(stage: Stage, t: Nanos): void {
    const moving = stage === 'approach' || stage === 'play' || stage === 'park' || stage === 'stopping'
    this.#stopping = stage === 'stopping'
    this.#moving = moving
    this.#holding = stage === 'seed' || stage === 'enable'
    // A drive that follows already, against all that was told, is held where it is now.
    if (stage === 'seed')
      this.#heldAt.forEach((at, j) => {
        if (!Number.isNaN(at)) this.#heldAt[j] = this.#position[j]!
      })
    if (this.#doubted) return
    this.#doubted = true
    this.#floors.forEach((floor, j) => {
      this.#doubt(this.#c.rig.joints[j]!, floor, t)
    })
  }

  #feedback(j: number, index: number, position: number, t: Nanos): void {
    if (position < this.#low[j]!) this.#low[j] = position
    if (position > this.#high[j]!) this.#high[j] = position
    const { limits } = this.#c.rig.joints[j]!
    const out = position < limits.lower || position > limits.upper
    const level = out ? 2 : position < this.#warnLow[j]! || position > this.#warnHigh[j]! ? 1 : 0
    if (this.#alarms.position.rises(j, level, t)) {
      const low = position < (limits.lower + limits.upper) / 2
      this.#tell('position', j, level, t, position, low ? limits.lower : limits.upper)
    }
    const before = this.#position[j]!
    this.#position[j] = position
    this.#t = t
    if (this.#holding)
      this.#hold(HELD, j, Math.abs(position - this.#heldAt[j]!), this.#heldWithin[j]!, this.#heldMotion, t)
    if (!this.#moving) return
    const gap = index - this.#index[j]!
    this.#index[j] = index
    if (gap === 0 && position === before) return // a doubled frame
    this.#told[j] = this.#told[j]! + 1
    const fast = this.#fast[j]!
    const smooth = this.#smooth[j]!
    if (gap !== 1) {
      fast.reset()
      smooth.reset()
    }
    fast.push(position)
    smooth.push(position)
    if (fast.ready) {
      this.#known[j] = this.#known[j]! + 1
      this.#hold('speed', j, Math.abs(fast.speed), limits.speed, this.#speed, t)
    }
    if (!smooth.ready) return
    const size = Math.abs(smooth.acceleration)
    if (this.#stopping && smooth.acceleration * smooth.speed <= 0) {
      if (size > this.#stopDeceleration[j]!) this.#stopDeceleration[j] = size
    } else this.#hold('acceleration', j, size, limits.acceleration, this.#acceleration, t)
  }

  /** The feedback that says so came just before. */
  #follows(j: number, follows: boolean): void {
    if (!follows) this.#heldAt[j] = Number.NaN
    else if (Number.isNaN(this.#heldAt[j]!)) this.#heldAt[j] = this.#position[j]!
  }

  #hold(
    quantity: Exclude<Quantity, 'position'>,
    j: number,
    size: number,
    limit: number,
    peaks: Float64Array,
    t: Nanos,
  ) {
    if (size > peaks[j]!) peaks[j] = size
    const level = size > limit ? 2 : size > this.#c.settings.warning * limit ? 1 : 0
    if (this.#alarms[quantity].rises(j, level, t)) this.#tell(quantity, j, level, t, size, limit)
  }

  #tell(quantity: Quantity, j: number, level: Level, t: Nanos, value: number, limit: number): void {
    const { rig, settings } = this.#c
    const beyond = level === 2
    const share = `${Math.round(settings.warning * 100)} %`
    const asked = quantity === 'speed' || quantity === 'acceleration' ? this.#asked.most(j, quantity) : value
    const unasked = value > UNASKED * asked
    const told = unasked
      ? `, and the setpoints before it asked for ${showQuantity(asked, UNIT[quantity])}`
      : ''
    this.#c.report({
      severity: beyond ? 'failure' : 'warning',
      place: rig.joints[j]!.name,
      t,
      quantity,
      value,
      limit,
      unit: UNIT[quantity],
      says: beyond
        ? `The ${quantity} went beyond its limit${told}.`
        : `The ${quantity} came beyond ${share} of its limit${told}.`,
      why: WHY[quantity],
      look: unasked ? LOOK_ELSEWHERE : LOOK[quantity],
      stop: beyond ? rig.stop.category : null,
    })
  }

  #doubtSpeed(j: number, share: number): void {
    this.#c.report({
      severity: 'doubt',
      place: this.#c.rig.joints[j]!.name,
      t: this.#t,
      quantity: 'feedback that made a speed',
      value: share,
      limit: LEAST_KNOWN,
      unit: 'share',
      says: 'Most of the time this joint had neither speed nor acceleration: its feedback did not come one by one, SYNC by SYNC.',
      why: 'Limits that were hardly watched were not kept, as far as anybody knows.',
      look: "Look at feedback lost, doubled and late, then at the joint's answer time beside the control period.",
      stop: null,
    })
  }

  #doubt({ name, limits }: Joint, floor: number, t: Nanos): void {
    if (floor <= NOISE_SHARE * limits.acceleration) return
    this.#c.report({
      severity: 'doubt',
      place: name,
      t,
      quantity: 'noise floor of acceleration',
      value: floor,
      limit: NOISE_SHARE * limits.acceleration,
      unit: 'rad/s2',
      says: 'Encoder noise alone makes more than a quarter of the acceleration limit.',
      why: 'So close to the noise neither a breach nor its absence can be told.',
      look: 'Look at the encoder counts, or widen the window of the acceleration filter in the rig.',
      stop: null,
    })
  }
}

function figure(place: string, name: string, value: number, unit: ShownUnit, limit: number | null): Figure {
  return { place, name, value, unit, limit }
}
