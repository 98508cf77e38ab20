/**
 * One blade as its arm's feedback shows it: where it is, whether it is in the water, how far it went there and which
 * way. An immersed blade drives the craft ahead by moving aft (-x) and astern by moving forward (+x).
 *
 * The direction that the command asks for holds once a driver that keeps the rig's acceleration and jerk could have
 * reached it, and a settling time later: until then the blade may still be moving the other way. A side that is asked for
 * nothing may lift its blade, but not move it along the craft in the water.
 */
import type { Nanos } from '../clock.js'
import type { Arm, Rig } from '../files/rig.js'
import { Chain } from '../motion/chain.js'
import { portSpeed, starboardSpeed } from '../motion/side-speeds.js'
import { Slew } from '../motion/slew.js'
import { StrokeHarmonics } from '../motion/stroke-harmonics.js'
import { JointSets } from './joint-sets.js'
import type { WatchSettings } from './settings.js'

/** m/s on the even part of the drive, in the commanded direction: what the blade did and what was asked. */
export interface EvenSpeed {
  readonly blade: number
  readonly asked: number
}

/** m/s, the follower ends at the wanted speed but for rounding. */
const SAME_SPEED = 1e-9
/** s of steady command after which the blade's speed on the even part is held against it */
const STEADY_AFTER = 5
/** Part of one passage of the even part that the command must have asked for before its speed is judged. */
const LEAST_WAY = 0.5

export class Blade {
  /** Immersed passes that count as strokes. */
  ahead = 0
  astern = 0
  /** m, present and greatest way that the immersed blade went against the command */
  wrong = 0
  mostWrong = 0
  /** Of strokes that follow one another; null: the rig does not say what its arms are fixed to */
  readonly harmonics: StrokeHarmonics | null
  readonly #arm: Arm
  readonly #rig: Rig
  readonly #settings: WatchSettings['sense']
  readonly #chain: Chain
  /** rad, last feedback of each joint of the arm; NaN: none yet */
  readonly #q: Float64Array
  /** rad */
  readonly #sets: JointSets
  readonly #follower: Slew
  #at = -1
  #x = 0
  #immersed = false
  #travel = 0
  #wanted = 0
  /** 0..1, length of the stroke that the command asks for, as a share of the full one */
  #reach = 1
  /** s for which wanted and possible direction have agreed */
  #agreed = 0
  /** s for which the speed could have been the wanted one; zero speed too */
  #steady = 0
  /** m, where the immersed blade was when it should have come to rest; NaN: it may move */
  #restsAt = Number.NaN
  #lastStroke: { readonly ahead: boolean; readonly t: Nanos } | null = null
  #cycles = 0
  #cycleTime = 0
  #evenTime = 0
  #evenWay = 0
  #evenAsked = 0

  constructor(rig: Rig, arm: Arm, settings: WatchSettings['sense']) {
    this.#arm = arm
    this.#rig = rig
    this.#settings = settings
    this.harmonics = rig.mount === null ? null : new StrokeHarmonics(rig.mount)
    this.#chain = new Chain(
      arm,
      arm.joints.map((j) => rig.joints[j]!),
    )
    this.#q = new Float64Array(arm.joints.length).fill(Number.NaN)
    this.#sets = new JointSets(arm.joints.length)
    this.#follower = new Slew(rig.driver.acceleration, rig.driver.jerk, rig.control.period)
  }

  /** At rest: a stage begins in which the driver starts from its park pose, or has nothing to say. */
  rest(): void {
    this.#follower.reset(0)
    this.#wanted = 0
    this.#agreed = 0
    this.#steady = 0
    this.#restsAt = Number.NaN
    this.#immersed = false
    this.#at = -1
    this.wrong = 0
    this.#lastStroke = null
  }

  command(surge: number, yaw: number): void {
    const { craft, driver, stroke } = this.#rig
    const [own, other] = this.#arm.side === 'port' ? [portSpeed, starboardSpeed] : [starboardSpeed, portSpeed]
    const speed = own(surge, yaw, craft.track)
    this.#wanted = speed * (1 + driver.slip)
    // With coupled sides the faster one sets the cadence and the other shortens its stroke.
    const fastest = Math.max(Math.abs(speed), Math.abs(other(surge, yaw, craft.track)))
    this.#reach = stroke.sides === 'free' || fastest === 0 ? 1 : Math.abs(speed) / fastest
    if (this.#wanted === 0) this.#lastStroke = null
  }

  /** One control period of what the command may have come to. */
  sync(): void {
    this.#follower.step(this.#wanted)
    const agrees = this.#wanted !== 0 && Math.sign(this.#follower.value) === Math.sign(this.#wanted)
    const { period } = this.#rig.control
    this.#agreed = agrees ? this.#agreed + period : 0
    this.#steady = Math.abs(this.#follower.value - this.#wanted) < SAME_SPEED ? this.#steady + period : 0
  }

  /**
   * @param place of the joint in the arm
   * @returns true when with it all joints of the arm have reported for this SYNC
   */
  feedback(place: number, index: number, position: number): boolean {
    this.#q[place] = position
    return this.#sets.put(place, index, position)
  }

  /** Sets of the arm's feedback that came together, and how many there could have been. */
  get sets(): { readonly count: number; readonly possible: number } {
    return this.#sets
  }

  /** Works out the blade from the last complete set of feedback. @param judged does the command count now? */
  see(t: Nanos, judged: boolean): void {
    this.#chain.forward(this.#sets.q)
    const x = this.#chain.blade[9]!
    const step = this.#at >= 0 ? x - this.#x : 0
    const periods = this.#at >= 0 ? this.#sets.index - this.#at : 0
    this.#x = x
    this.#at = this.#sets.index
    const immersed = this.#chain.blade[11]! < -this.#rig.craft.waterline
    if (immersed && this.#immersed) {
      this.#travel += step
      if (judged && this.#agreed > this.#settings.settle) this.#judge(x, step, periods)
      else if (judged && this.#wanted === 0 && this.#steady > this.#settings.settle) this.#judgeRest(x)
    } else {
      if (this.#immersed) this.#surface(t)
      this.#travel = 0
      this.wrong = 0
      this.#restsAt = Number.NaN
    }
    this.#immersed = immersed
  }

  #judge(x: number, step: number, periods: number): void {
    const direction = Math.sign(this.#wanted)
    this.#restsAt = Number.NaN
    // Noise must not add up: way in the right direction is taken off again, down to nothing.
    this.wrong = Math.max(0, this.wrong + direction * step)
    if (this.wrong > this.mostWrong) this.mostWrong = this.wrong
    // With coupled sides a stroke changes its length on the recovery: the speed is there a stroke or two later.
    if (this.#steady < STEADY_AFTER) return
    const { middle, length, even } = this.#rig.stroke
    if (Math.abs(x - middle) > (this.#reach * even * length) / 2) return
    const time = periods * this.#rig.control.period
    this.#evenTime += time
    this.#evenWay += -direction * step
    this.#evenAsked += Math.abs(this.#follower.value) * time
  }

  #judgeRest(x: number): void {
    if (Number.isNaN(this.#restsAt)) this.#restsAt = x
    this.wrong = Math.abs(x - this.#restsAt)
    if (this.wrong > this.mostWrong) this.mostWrong = this.wrong
  }

  /** The blade has left the water. */
  #surface(t: Nanos): void {
    if (Math.abs(this.#travel) < this.#settings.stroke * this.#rig.stroke.length) return
    const ahead = this.#travel < 0
    if (ahead) this.ahead++
    else this.astern++
    const last = this.#lastStroke
    if (last !== null && last.ahead === ahead) {
      this.#cycles++
      const time = (t - last.t) / 1e9
      this.#cycleTime += time
      this.harmonics?.see(1 / time)
    }
    this.#lastStroke = { ahead, t }
  }

  /** strokes/s, mean over strokes that follow one another; null without such */
  get cadence(): number | null {
    return this.#cycles === 0 ? null : this.#cycles / this.#cycleTime
  }

  /** null: never there under a steady command, or for so short a way that the lag of the joints would decide */
  get evenSpeed(): EvenSpeed | null {
    const { even, length } = this.#rig.stroke
    if (this.#evenTime === 0 || this.#evenAsked < LEAST_WAY * even * length) return null
    return { blade: this.#evenWay / this.#evenTime, asked: this.#evenAsked / this.#evenTime }
  }

  /** m by which the lowest edge stands above the water at the last feedback; null when a joint was never seen */
  get clearance(): number | null {
    if (this.#q.some(Number.isNaN)) return null
    this.#chain.forward(this.#q)
    const { normal: n, shaft: s } = this.#arm.tool
    const across = [n[1] * s[2] - n[2] * s[1], n[2] * s[0] - n[0] * s[2], n[0] * s[1] - n[1] * s[0]] as const
    const up = (v: readonly [number, number, number]): number =>
      Math.abs(this.#chain.blade[6]! * v[0] + this.#chain.blade[7]! * v[1] + this.#chain.blade[8]! * v[2])
    const { length, width } = this.#arm.paddle
    return this.#chain.blade[11]! - (up(s) * length + up(across) * width) / 2 + this.#rig.craft.waterline
  }
}
