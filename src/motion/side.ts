/**
 * The motion of one side: from its speed in each control period to its place in the stroke. A state machine without clock:
 *
 *     parked -> stroking -> lifting -> carrying -> parked
 *
 * Side speed zero for the dwell ends stroking. Lifting and carrying run to their end; a command waits until parked.
 *
 * A side whose stroke is shortened to the share `reach` runs the phase at u/kappa with u = speed/reach, so that the blade
 * still moves at the side's speed on the middle part. It is u that is limited in acceleration and jerk, and held near the
 * fastest side's speed: a short stroke takes no higher cadence than a full one. `reach` changes outside the middle part only.
 */
import type { StrokePlace } from './blade.js'
import { type CadenceSettings, recoveryRate } from './cadence.js'
import { quintic } from './quintic.js'
import { Slew, type SlewState } from './slew.js'
import { PARK_PHASE, type StrokeShape } from './stroke.js'

export type SideState = 'parked' | 'stroking' | 'lifting' | 'carrying'

export interface SideSettings {
  readonly shape: StrokeShape
  readonly cadence: CadenceSettings
  /** Are the strokes of the two sides coupled? */
  readonly coupled: boolean
  /** m/s2 and m/s3 */
  readonly acceleration: number
  readonly jerk: number
  /** s */
  readonly dwell: number
  readonly liftTime: number
  readonly carryTime: number
  readonly period: number
}

/** Shortest stroke of the slower side, as a share of the full length; slower still, its cadence falls. */
export const SHORTEST = 0.25
/** How much faster than the fastest side a shortened stroke may run while its length is still on the way. */
export const HURRY = 1.05
/** 1/s and 1/s2: how fast the wanted share of the stroke's length changes. */
const REACH_RATE = 1
const REACH_CHANGE = 4
/** 1/s: fastest change of the share itself, and how fast it closes small gaps. */
const REACH_MOST = 0.5
const REACH_GAIN = 6
/** Largest change of the recovery's rate that may pull the sides into step. */
export const PULL = 0.15

/** All that a side remembers from one period to the next. */
interface Kept {
  readonly state: SideState
  readonly place: StrokePlace
  readonly speed: SlewState
  readonly wantedReach: SlewState
  readonly still: number
  readonly elapsed: number
}

export class SideMotion implements StrokePlace {
  state: SideState = 'parked'
  phase = PARK_PHASE
  reach = 1
  lift = 0
  carry = 0
  readonly #settings: SideSettings
  /** m/s on a full-length stroke, signed */
  readonly #speed: Slew
  readonly #wantedReach: Slew
  #still = 0
  #elapsed = 0

  constructor(settings: SideSettings) {
    this.#settings = settings
    this.#speed = new Slew(settings.acceleration, settings.jerk, settings.period)
    this.#wantedReach = new Slew(REACH_RATE, REACH_CHANGE, settings.period)
    this.begin()
  }

  /** Parked and at rest. */
  begin(): void {
    this.state = 'parked'
    this.phase = PARK_PHASE
    this.reach = 1
    this.lift = 0
    this.carry = 0
    this.#speed.reset(0)
    this.#wantedReach.reset(1)
    this.#still = 0
  }

  /** m/s: side speed at the end of the last period; on the middle part of the drive the blade's speed, aft +. */
  get speed(): number {
    return this.reach * this.#speed.value
  }

  /** m/s: what the speed would be on a full-length stroke. */
  get fullSpeed(): number {
    return this.#speed.value
  }

  /** 1/s: the phase rate of the next period, without sign; 0 while the phase stands. @param pull as for `step` */
  nextRate(pull: number): number {
    return this.state === 'stroking' ? Math.abs(this.#rate(this.phase, this.#speed.value, pull)) : 0
  }

  /** What `restore` goes back to. */
  keep(): Kept {
    const { phase, reach, lift, carry } = this
    return {
      state: this.state,
      place: { phase, reach, lift, carry },
      speed: this.#speed.keep(),
      wantedReach: this.#wantedReach.keep(),
      still: this.#still,
      elapsed: this.#elapsed,
    }
  }

  restore({ state, place, speed, wantedReach, still, elapsed }: Kept): void {
    this.state = state
    Object.assign(this, place)
    this.#speed.restore(speed)
    this.#wantedReach.restore(wantedReach)
    this.#still = still
    this.#elapsed = elapsed
  }

  /**
   * One control period.
   * @param wanted m/s
   * @param fastest m/s, the greatest |wanted| of all sides
   * @param pull -1..1: run the recovery slower (+) or faster (-), to come into step
   * @param pace 0..1: share of the phase's motion that a speed cap leaves
   * @param brake 0..1: share of all motion of this period
   */
  step(wanted: number, fastest: number, pull: number, pace = 1, brake = 1): void {
    const { period, liftTime, carryTime } = this.#settings
    switch (this.state) {
      case 'parked':
        if (wanted === 0) return
        // Phase 0.75 is at x = middle whatever the length, so it may be set at once here.
        this.reach = this.#targetReach(wanted, fastest)
        this.#wantedReach.reset(this.reach)
        this.#still = 0
        this.state = 'stroking'
        this.#stroke(wanted, fastest, pull, pace * brake)
        return
      case 'stroking':
        this.#stroke(wanted, fastest, pull, pace * brake)
        return
      case 'lifting':
        this.#elapsed += brake * period
        this.lift = quintic(this.#elapsed / liftTime)
        if (this.lift === 1) this.#enter('carrying')
        return
      case 'carrying':
        this.#elapsed += brake * period
        this.carry = quintic(this.#elapsed / carryTime)
        if (this.carry === 1) this.begin()
    }
  }

  #enter(state: SideState): void {
    this.state = state
    this.#elapsed = 0
  }

  #stroke(wanted: number, fastest: number, pull: number, pace: number): void {
    const { shape, coupled, period: whole, dwell } = this.#settings
    const period = pace * whole
    const speed = this.#speed
    const before = speed.value
    const most = HURRY * fastest
    speed.step(coupled ? Math.min(Math.max(wanted / this.reach, -most), most) : wanted)
    // Midpoint rule; exact on the middle part, where the rate depends on the speed alone.
    const half = this.#wrap(this.phase + (period / 2) * this.#rate(this.phase, before, pull))
    if (coupled) this.#adjustReach(shape.recovery(half), this.#targetReach(wanted, fastest), period)
    this.phase = this.#wrap(this.phase + period * this.#rate(half, (before + speed.value) / 2, pull))
    this.#still = wanted === 0 && speed.value === 0 && speed.slope === 0 ? this.#still + whole : 0
    if (this.#still < dwell) return
    shape.at(this.phase)
    this.#enter(shape.rise.value === 1 ? 'carrying' : 'lifting')
    if (this.state === 'carrying') this.lift = 1
  }

  /** 1/s */
  #rate(phase: number, u: number, pull: number): number {
    const { shape, cadence } = this.#settings
    const even = u / cadence.kappa
    const weight = shape.recovery(phase)
    return weight === 0 ? even : even + weight * (recoveryRate(u, cadence) * (1 - PULL * pull) - even)
  }

  #targetReach(wanted: number, fastest: number): number {
    if (!this.#settings.coupled || wanted === 0) return this.reach
    return Math.max(SHORTEST, Math.abs(wanted) / fastest)
  }

  #adjustReach(weight: number, target: number, period: number): void {
    const wanted = this.#wantedReach
    wanted.step(target)
    const rate = REACH_MOST * Math.tanh((REACH_GAIN / REACH_MOST) * (wanted.value - this.reach))
    this.reach = Math.min(1, this.reach + weight * rate * period)
  }

  #wrap(phase: number): number {
    const p = phase - Math.floor(phase)
    return p < 1 ? p : 0
  }
}
