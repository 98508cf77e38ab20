/** What is asked of each whole stroke of an arm, and how far off it may be: the rig's stroke at the commanded side speed, measured alike. */
import type { Rig } from '../files/rig.js'
import { PULL } from '../motion/side.js'
import type { StrokeFigures } from '../motion/stroke-meter.js'
import type { StrokeReference } from '../motion/stroke-reference.js'
import type { ShownUnit } from '../units.js'
import type { WatchSettings } from './settings.js'

/** Quantities of a stroke, in the order in which they are told. */
export const BANDS = [
  'length',
  'cadence',
  'ratio',
  'catch',
  'exit',
  'catchAngle',
  'exitAngle',
  'recoveryAngle',
] as const
export type Band = (typeof BANDS)[number]

/** How a quantity is called, its unit, and that of its distance from what is asked. */
export const BAND_NAMES: Readonly<Record<Band, readonly [name: string, unit: ShownUnit, off: ShownUnit]>> = {
  length: ['way of the stroke', 'm', 'share'],
  cadence: ['cadence of whole strokes', 'Hz', 'share'],
  ratio: ['time in the water to time out of it', 'none', 'share'],
  catch: ['immersion at the catch', 'm', 'm'],
  exit: ['immersion at the exit', 'm', 'm'],
  catchAngle: ['blade angle at the catch', 'rad', 'rad'],
  exitAngle: ['blade angle at the exit', 'rad', 'rad'],
  recoveryAngle: ['blade angle on the recovery', 'rad', 'rad'],
}

export class StrokeBands {
  /** By band: measured of the last stroke, what was asked of it, how far outside it was (in the unit of `off`), and how far it may be. */
  readonly measured = new Float64Array(BANDS.length)
  readonly asked = new Float64Array(BANDS.length)
  readonly off = new Float64Array(BANDS.length)
  readonly limits: Float64Array
  readonly #reference: StrokeReference
  readonly #coupled: boolean
  readonly #capped: boolean

  constructor(rig: Rig, settings: WatchSettings['stroke'], reference: StrokeReference) {
    this.#reference = reference
    this.#coupled = rig.stroke.sides !== 'free'
    this.#capped = rig.motion.speedCap < 1
    const { length, cadence, ratio, depth, angle } = settings
    const deep = depth * rig.stroke.immersion
    this.limits = Float64Array.of(length, cadence, ratio, deep, deep, angle, angle, angle)
  }

  /**
   * Holds a stroke against the rig's.
   * @param speed m/s of the side; NaN: not even, so that nothing can be said of the stroke's times
   * @param reach 0..1, share of the length that is asked for
   */
  hold(stroke: Readonly<StrokeFigures>, speed: number, reach: number): void {
    const { shape } = this.#reference
    const way = reach * shape.way
    this.#put(0, stroke.way, way, stroke.way / way - 1)
    if (Number.isNaN(speed)) {
      for (const i of [1, 2]) this.#put(i, Number.NaN, Number.NaN, Number.NaN)
    } else this.#times(stroke, speed, reach)
    this.#plain(3, stroke.catch, shape.catch)
    this.#plain(4, stroke.exit, shape.exit)
    this.#plain(5, stroke.catchAngle, shape.catchAngle)
    this.#plain(6, stroke.exitAngle, shape.exitAngle)
    this.#plain(7, stroke.recoveryAngle, shape.recoveryAngle)
  }

  /** Holds a blade that begins a stroke in the middle of the recovery: how it is turned there, and nothing else. @param angle rad */
  holdStart(angle: number): void {
    for (let i = 0; i < BANDS.length; i++) this.#put(i, Number.NaN, Number.NaN, Number.NaN)
    this.#plain(7, angle, this.#reference.shape.recoveryAngle)
  }

  /** Sides that are to stroke together hurry or linger on the recovery to come into step, and a speed cap slows the whole. */
  #times(stroke: Readonly<StrokeFigures>, speed: number, reach: number): void {
    const reference = this.#reference
    const pull = this.#coupled ? PULL : 0
    const ratio = stroke.wet / (stroke.time - stroke.wet)
    const ratioOf = (): number => reference.wet / (reference.time - reference.wet)
    reference.at(speed, reach, 1 + pull)
    const [soonest, most] = [reference.time, ratioOf()]
    reference.at(speed, reach, 1 - pull)
    const [latest, least] = [reference.time, ratioOf()]
    const [cadence, fastest, slowest] = [1 / stroke.time, 1 / soonest, 1 / latest]
    reference.at(speed, reach)
    const fast = Math.max(0, cadence / fastest - 1)
    const slow = this.#capped ? 0 : Math.min(0, cadence / slowest - 1)
    this.#put(1, cadence, 1 / reference.time, fast + slow)
    const outside = Math.max(0, ratio / most - 1) + Math.min(0, ratio / least - 1)
    this.#put(2, ratio, ratioOf(), this.#capped ? 0 : outside)
  }

  #plain(i: number, measured: number, asked: number): void {
    this.#put(i, measured, asked, measured - asked)
  }

  /** What could not be measured is not off: catch and exit of a stroke of another length than the one before. */
  #put(i: number, measured: number, asked: number, off: number): void {
    this.measured[i] = measured
    this.asked[i] = asked
    this.off[i] = Number.isFinite(off) ? Math.abs(off) : 0
  }
}
