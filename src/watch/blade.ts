/**
 * One blade as its arm's feedback shows it: where it is, whether it is in the water, how far it went there and which
 * way. An immersed blade drives the craft ahead by moving aft (-x) and astern by moving forward (+x).
 *
 * The direction that the command asks for holds once a driver that keeps the rig's acceleration and jerk could have
 * reached it, and a settling time later: until then the blade may still be moving the other way. A side that is asked for
 * nothing may lift its blade, but not move it along the craft in the water.
 *
 * Its speed is held against the one asked for on the even part of each drive, drive by drive, and over all of them.
 */
import type { Nanos } from '../clock.js'
import type { Arm, Rig } from '../files/rig.js'
import { StrokeHarmonics } from '../motion/stroke-harmonics.js'
import { BladeView } from './blade-view.js'
import type { WatchSettings } from './settings.js'
import { SideDemand } from './side-demand.js'

/** m/s on the even part of the drive, in the commanded direction: what the blade did and what was asked. */
export interface EvenSpeed {
  readonly blade: number
  readonly asked: number
}

/** s of steady command after which the blade's speed is held against it where sides are coupled: a stroke changes its length on the recovery */
const COUPLED_AFTER = 5
/** Part of one passage of the even part that the command must have asked for before its speed is judged. */
const LEAST_WAY = 0.5

export class Blade {
  /** Immersed passes that count as strokes. */
  ahead = 0
  astern = 0
  /** m, present and greatest way that the immersed blade went against the command */
  wrong = 0
  mostWrong = 0
  /** Of the drive whose even part the blade has just left; null: it has not, or too little of it was under a steady command */
  passed: EvenSpeed | null = null
  /** Of strokes that follow one another; null: the rig does not say what its arms are fixed to */
  readonly harmonics: StrokeHarmonics | null
  readonly #rig: Rig
  readonly #settings: WatchSettings['sense']
  readonly #view: BladeView
  /** rad, last feedback of each joint of the arm; NaN: none yet */
  readonly #q: Float64Array
  readonly #demand: SideDemand
  #at = -1
  #x = 0
  #immersed = false
  #travel = 0
  /** m, where the immersed blade was when it should have come to rest; NaN: it may move */
  #restsAt = Number.NaN
  #lastStroke: { readonly ahead: boolean; readonly t: Nanos } | null = null
  #cycles = 0
  #cycleTime = 0
  readonly #steadyAfter: number
  /** On the even part: of the present drive, and of all. */
  readonly #passing = new EvenPart()
  readonly #even = new EvenPart()

  constructor(rig: Rig, arm: Arm, settings: WatchSettings['sense']) {
    this.#rig = rig
    this.#settings = settings
    this.harmonics = rig.mount === null ? null : new StrokeHarmonics(rig.mount)
    this.#view = new BladeView(rig, arm)
    this.#q = new Float64Array(arm.joints.length).fill(Number.NaN)
    this.#demand = new SideDemand(rig, arm.side)
    this.#steadyAfter = rig.stroke.sides === 'free' ? settings.settle : COUPLED_AFTER
  }

  /** At rest: a stage begins in which the driver starts from its park pose, or has nothing to say. */
  rest(): void {
    this.#demand.rest()
    this.#restsAt = Number.NaN
    this.#immersed = false
    this.#at = -1
    this.wrong = 0
    this.#lastStroke = null
    this.#passing.clear()
  }

  command(surge: number, yaw: number): void {
    this.#demand.command(surge, yaw)
    if (this.#demand.wanted === 0) this.#lastStroke = null
  }

  /** One control period of what the command may have come to. */
  sync(): void {
    this.#demand.sync()
  }

  /**
   * @param place of the joint in the arm
   * @returns true when with it all joints of the arm have reported for this SYNC
   */
  feedback(place: number, index: number, position: number): boolean {
    this.#q[place] = position
    return this.#view.feedback(place, index, position)
  }

  /** Sets of the arm's feedback that came together, and how many there could have been. */
  get sets(): { readonly count: number; readonly possible: number } {
    return this.#view.sets
  }

  /** Works out the blade from the last complete set of feedback. @param judged does the command count now? */
  see(t: Nanos, judged: boolean): void {
    const { x, depth } = this.#view.look()
    const { index } = this.#view.sets
    const step = this.#at >= 0 ? x - this.#x : 0
    const periods = this.#at >= 0 ? index - this.#at : 0
    this.#x = x
    this.#at = index
    const immersed = depth > 0
    const { agreed, wanted, steady } = this.#demand
    this.passed = null
    if (immersed && this.#immersed) {
      this.#travel += step
      if (judged && agreed > this.#settings.settle) this.#judge(x, step, periods)
      else if (judged && wanted === 0 && steady > this.#settings.settle) this.#judgeRest(x)
    } else {
      if (this.#immersed) this.#surface(t)
      this.#passing.clear()
      this.#travel = 0
      this.wrong = 0
      this.#restsAt = Number.NaN
    }
    this.#immersed = immersed
  }

  #judge(x: number, step: number, periods: number): void {
    const { wanted, steady, share, possible } = this.#demand
    const direction = Math.sign(wanted)
    this.#restsAt = Number.NaN
    // Noise must not add up: way in the right direction is taken off again, down to nothing.
    this.wrong = Math.max(0, this.wrong + direction * step)
    if (this.wrong > this.mostWrong) this.mostWrong = this.wrong
    const { even, length } = this.#rig.stroke
    if (steady < this.#steadyAfter || Math.abs(x - this.#rig.stroke.middle) > (share * even * length) / 2) {
      if (this.#passing.asked >= LEAST_WAY * share * even * length) this.passed = this.#passing.speed
      this.#passing.clear()
      return
    }
    const time = periods * this.#rig.control.period
    for (const part of [this.#passing, this.#even])
      part.add(-direction * step, Math.abs(possible) * time, time)
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

  /** Of all drives; null: never there under a steady command, or for so short a way that the lag of the joints would decide */
  get evenSpeed(): EvenSpeed | null {
    const { even, length } = this.#rig.stroke
    return this.#even.asked < LEAST_WAY * even * length ? null : this.#even.speed
  }

  /** m by which the lowest edge stands above the water at the last feedback; null when a joint was never seen */
  get clearance(): number | null {
    if (this.#q.some(Number.isNaN)) return null
    return this.#view.look(this.#q).clearance
  }
}

/** What a blade did on the even part of the drive, and what was asked of it. */
class EvenPart {
  /** m */
  asked = 0
  #way = 0
  #time = 0

  clear(): void {
    this.asked = this.#way = this.#time = 0
  }

  /** @param way m, in the commanded direction @param asked m @param time s */
  add(way: number, asked: number, time: number): void {
    this.#way += way
    this.asked += asked
    this.#time += time
  }

  get speed(): EvenSpeed {
    return { blade: this.#way / this.#time, asked: this.asked / this.#time }
  }
}
