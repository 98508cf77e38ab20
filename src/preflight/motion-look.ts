/**
 * What a scenario's commands ask of each joint, from the driver's setpoints: speed, acceleration, and how far it would run on if nobody
 * told it anything any more.
 *
 * The worst is assumed of a joint that is told nothing: that it goes on at its speed until its drive or the guardian stops it,
 * and is then braked evenly at the rig's quick-stop deceleration. A drive that holds its last setpoint goes less far.
 */
import type { Rig } from '../files/rig.js'
import { BladeRunOn, runOn } from '../motion/run-on.js'
import type { Middle, MiddleLook } from './middle.js'
import { Peaks } from './peaks.js'

/** Who stops a joint, and how long that takes, by joint (s); NaN: he does not stop this one. */
export interface Wait {
  readonly who: 'watchdog' | 'guardian'
  readonly seconds: Float64Array
}

export interface RunOnPeaks {
  readonly who: Wait['who']
  /** Where a joint then stands, as a share of the way from the middle of its range to the end that it moves to. */
  readonly share: Peaks
  /** rad that it runs on, where that is farthest. */
  readonly way: Peaks
  /** m, by arm: how far its blade then is from where it was, at most */
  readonly blade: Float64Array
}

export class MotionLook implements MiddleLook {
  /** Shares of the joints' limits. */
  readonly speed: Peaks
  readonly acceleration: Peaks
  readonly runsOn: readonly RunOnPeaks[]
  readonly #rig: Rig
  readonly #waits: readonly Wait[]
  readonly #blades: readonly BladeRunOn[]
  readonly #on: readonly Float64Array[]
  readonly #own: readonly Float64Array[]

  constructor(rig: Rig, waits: readonly Wait[]) {
    const n = rig.joints.length
    this.#rig = rig
    this.#waits = waits
    this.speed = new Peaks(n)
    this.acceleration = new Peaks(n)
    this.runsOn = waits.map(({ who }) => ({
      who,
      share: new Peaks(n),
      way: new Peaks(n),
      blade: new Float64Array(rig.arms.length),
    }))
    this.#blades = rig.arms.map(
      (arm) =>
        new BladeRunOn(
          arm,
          arm.joints.map((j) => rig.joints[j]!),
        ),
    )
    this.#on = rig.arms.map((arm) => new Float64Array(arm.joints.length))
    this.#own = rig.arms.map((arm) => new Float64Array(arm.joints.length))
  }

  see(middle: Middle): void {
    const { onward, qdd, phase } = middle
    const { joints } = this.#rig
    for (let j = 0; j < joints.length; j++) {
      const { limits, arm } = joints[j]!
      this.speed.offer(j, Math.abs(onward[j]!) / limits.speed, phase[arm]!)
      this.acceleration.offer(j, Math.abs(qdd[j]!) / limits.acceleration, phase[arm]!)
    }
    for (let w = 0; w < this.#waits.length; w++) this.#runOn(middle, this.#waits[w]!.seconds, this.runsOn[w]!)
  }

  #runOn({ q, qd, phase }: Middle, seconds: Float64Array, peaks: RunOnPeaks): void {
    const { joints, arms, link } = this.#rig
    for (let a = 0; a < arms.length; a++) {
      const own = this.#own[a]!
      const on = this.#on[a]!
      let stopped = true
      for (let i = 0; i < own.length; i++) {
        const j = arms[a]!.joints[i]!
        const { lower, upper } = joints[j]!.limits
        const wait = seconds[j]!
        const here = q[j]!
        const way = runOn(qd[j]!, wait, link.quickStop)
        own[i] = here
        on[i] = way
        if (!(wait < Infinity)) stopped = false
        else if (way !== 0) {
          const off = here + way - (lower + upper) / 2
          peaks.share.offer(j, (2 * Math.sign(way) * off) / (upper - lower), phase[a]!)
          peaks.way.offer(j, Math.abs(way), phase[a]!)
        }
      }
      if (!stopped) continue
      const travel = this.#blades[a]!.travel(own, on, peaks.blade[a]!)
      if (travel > peaks.blade[a]!) peaks.blade[a] = travel
    }
  }
}
