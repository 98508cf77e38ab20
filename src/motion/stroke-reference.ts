/**
 * What the rig's stroke comes to at an even side speed. Its shape is measured once, by the same meter as the arms' strokes
 * (stroke-meter.ts), on the blade's path (blade.ts); its times are integrals of the phase rates of cadence.ts. Astern is the same
 * stroke backwards, so that one direction is enough. Allocation-free but for the constructor.
 */
import type { Arm, Rig } from '../files/rig.js'
import { BladePath, type StrokePlace, strokeShape } from './blade.js'
import { BladePlace } from './blade-place.js'
import { type CadenceSettings, cadence, recoveryRate } from './cadence.js'
import { POSE } from './pose.js'
import { PARK_PHASE, type StrokeShape } from './stroke.js'
import { type MeterSettings, type StrokeFigures, StrokeMeter } from './stroke-meter.js'

/** Phases of a stroke that the meter is shown. */
const STEPS = 4000
/** Places of the drive, and as many of the recovery, that an integral takes. */
const PLACES = 300
const DRIVE_MIDDLE = 0.25

export class StrokeReference {
  /** To measure other blades with. */
  readonly meter: MeterSettings
  /** At full length, but for its times. */
  readonly shape: Readonly<StrokeFigures>
  /** s, of the last `at`: a whole stroke, and the part of it for which the blade's centre is under water */
  time = 0
  wet = 0
  readonly #cadence: CadenceSettings
  readonly #shape: StrokeShape
  readonly #path: BladePath
  readonly #place: BladePlace
  /** Half the span of phases, about the middle of the drive, in which the centre is under water. */
  readonly #under: number

  constructor(rig: Pick<Rig, 'stroke' | 'craft' | 'arms' | 'driver'>, arm: Arm) {
    const { stroke, craft, arms, driver } = rig
    this.#shape = strokeShape(
      stroke,
      arms.map(({ paddle }) => paddle),
    )
    this.#path = new BladePath(this.#shape, stroke, craft, arm)
    this.#cadence = cadence(this.#shape.kappa, stroke.recovery, driver.acceleration)
    this.#place = new BladePlace(rig, arm, new Float64Array(POSE))
    const { middle, length, even } = stroke
    const unknown = { middle, length, even, over: 1 }
    this.meter = { ...unknown, over: this.#measured(unknown).way / length }
    this.shape = this.#measured(this.meter)
    this.#under = this.#surfacing()
  }

  /**
   * Works out `time` and `wet`.
   * @param speed m/s of the side, not zero, whatever its sign
   * @param reach 0..1, share of the length: the phase runs as on a full-length stroke at speed / reach
   * @param hurry the recovery's phase rate as a multiple of its own
   */
  at(speed: number, reach: number, hurry = 1): void {
    const full = Math.abs(speed) / reach
    const even = full / this.#cadence.kappa
    const back = hurry * recoveryRate(full, this.#cadence) - even
    const under = this.#under
    this.wet = this.#integral(DRIVE_MIDDLE - under, 2 * under, even, back)
    this.time = this.wet + this.#integral(DRIVE_MIDDLE + under, 1 - 2 * under, even, back)
  }

  /** s, from a phase on, by the midpoint rule. */
  #integral(from: number, span: number, even: number, back: number): number {
    const step = span / PLACES
    let time = 0
    for (let i = 0; i < PLACES; i++) {
      const phase = from + (i + 0.5) * step
      time += step / (even + this.#shape.recovery(phase - Math.floor(phase)) * back)
    }
    return time
  }

  /** The second of two strokes: the first tells where catch and exit are. */
  #measured(settings: MeterSettings): Readonly<StrokeFigures> {
    const meter = new StrokeMeter(settings)
    for (let i = 0; meter.count < 2; i++) {
      this.#go((PARK_PHASE - 0.15 + i / STEPS) % 1)
      meter.see(i / STEPS, this.#place)
    }
    return { ...meter.last }
  }

  #surfacing(): number {
    let under = 0
    let above = 0.5
    for (let i = 0; i < 50; i++) {
      const middle = (under + above) / 2
      this.#go(DRIVE_MIDDLE + middle)
      if (this.#place.depth > 0) under = middle
      else above = middle
    }
    return under
  }

  #go(phase: number): void {
    const place: StrokePlace = { phase, reach: 1, lift: 0, carry: 0 }
    this.#path.pose(place, this.#place.pose)
  }
}
