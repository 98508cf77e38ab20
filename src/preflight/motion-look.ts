/**
 * What a scenario's commands ask of each joint, from the driver's setpoints: speed, acceleration, and how far it would run on if nobody
 * told it anything any more.
 *
 * The worst is assumed of a joint that is told nothing: that it goes on at its speed until its drive or the guardian stops it,
 * and is then braked evenly at the rig's quick-stop deceleration. A drive that holds its last setpoint goes less far.
 */
import type { Look } from '../bench/scenario-walk.js'
import type { ReferenceDriver } from '../driver/reference.js'
import type { Rig } from '../files/rig.js'
import { BladeRunOn, runOn } from '../motion/run-on.js'
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

/** Setpoints at three looks in a row are a place, a speed and an acceleration at the middle one. */
export class MotionLook implements Look {
  /** Shares of the joints' limits. */
  readonly speed: Peaks
  readonly acceleration: Peaks
  readonly runsOn: readonly RunOnPeaks[]
  readonly #rig: Rig
  readonly #driver: Pick<ReferenceDriver, 'sides'>
  readonly #period: number
  readonly #waits: readonly Wait[]
  readonly #blades: readonly BladeRunOn[]
  #seen = 0
  #before: Float64Array
  #here: Float64Array
  #after: Float64Array
  /** Phase of each joint's side at the middle look and the last one. */
  readonly #phase: Float64Array
  readonly #nextPhase: Float64Array
  readonly #on: readonly Float64Array[]
  readonly #own: readonly Float64Array[]

  /** @param period s between two looks */
  constructor(rig: Rig, driver: Pick<ReferenceDriver, 'sides'>, period: number, waits: readonly Wait[]) {
    const n = rig.joints.length
    this.#rig = rig
    this.#driver = driver
    this.#period = period
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
    this.#before = new Float64Array(n)
    this.#here = new Float64Array(n)
    this.#after = new Float64Array(n)
    this.#phase = new Float64Array(n)
    this.#nextPhase = new Float64Array(n)
    this.#on = rig.arms.map((arm) => new Float64Array(arm.joints.length))
    this.#own = rig.arms.map((arm) => new Float64Array(arm.joints.length))
  }

  see(q: Float64Array): void {
    const spare = this.#before
    this.#before = this.#here
    this.#here = this.#after
    this.#after = spare
    spare.set(q)
    this.#phase.set(this.#nextPhase)
    const { sides } = this.#driver
    for (const { index, arm } of this.#rig.joints)
      this.#nextPhase[index] = sides[this.#rig.arms[arm]!.side].phase
    if (++this.#seen < 3) return
    const { joints } = this.#rig
    const T = this.#period
    for (let j = 0; j < joints.length; j++) {
      const { limits } = joints[j]!
      const forth = this.#after[j]! - this.#here[j]!
      const back = this.#here[j]! - this.#before[j]!
      this.speed.offer(j, Math.abs(forth) / T / limits.speed, this.#phase[j]!)
      this.acceleration.offer(j, Math.abs(forth - back) / (T * T) / limits.acceleration, this.#phase[j]!)
    }
    for (let w = 0; w < this.#waits.length; w++) this.#runOn(this.#waits[w]!.seconds, this.runsOn[w]!)
  }

  #runOn(seconds: Float64Array, peaks: RunOnPeaks): void {
    const { joints, arms, link } = this.#rig
    const T = this.#period
    for (let a = 0; a < arms.length; a++) {
      const own = this.#own[a]!
      const on = this.#on[a]!
      let stopped = true
      for (let i = 0; i < own.length; i++) {
        const j = arms[a]!.joints[i]!
        const { lower, upper } = joints[j]!.limits
        const wait = seconds[j]!
        const here = this.#here[j]!
        const way = runOn((this.#after[j]! - this.#before[j]!) / (2 * T), wait, link.quickStop)
        own[i] = here
        on[i] = way
        if (!(wait < Infinity)) stopped = false
        else if (way !== 0) {
          const off = here + way - (lower + upper) / 2
          peaks.share.offer(j, (2 * Math.sign(way) * off) / (upper - lower), this.#phase[j]!)
          peaks.way.offer(j, Math.abs(way), this.#phase[j]!)
        }
      }
      if (!stopped) continue
      const travel = this.#blades[a]!.travel(own, on, peaks.blade[a]!)
      if (travel > peaks.blade[a]!) peaks.blade[a] = travel
    }
  }
}
