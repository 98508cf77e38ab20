/**
 * The shape of the stroke as four functions of phase, all C2 and periodic: how far forward of its middle the blade is (`x`), how far
 * out of the water (`rise`), how far turned about its shaft (`turn`), and how much of the recovery's own rate the phase runs at
 * (`recovery`). Phase 0 is the catch, 0..0.5 the drive, 0.5 the exit.
 *
 *     phase  0      a                b     0.5               0.75               1
 *            catch  |-- middle part -|     exit     park (middle of recovery)   catch
 *     x      from catch to exit: falling at the constant slope -kappa between a and b, one odd quintic around 0.75
 *     rise   0 between a and b, to 1 by a quintic right after b, back to 0 right before a
 *     turn   0 whenever any of the blade may be under water, 1 at 0.75
 *
 * All four are symmetric about the middle of the drive (0.25) and of the recovery (0.75), so that astern is the same stroke.
 */
import { quintic, quinticCurvature, quinticSlope } from './quintic.js'

/** Middle of the recovery: where a blade parks. */
export const PARK_PHASE = 0.75
/** Share of the half of the path outside the middle part in which the blade rises (or sinks). */
const RAMP = 0.65
/** Share of the way from leaving the water to the middle of the recovery in which the blade turns. */
const TURN = 0.95

/** A function of phase with its first and second derivative. */
export interface PhaseFunction {
  value: number
  slope: number
  curvature: number
}

export class StrokeShape {
  /** Middle part of the drive: from phase `a` to phase `b`. */
  readonly a: number
  readonly b: number
  /** m per unit of phase: the slope of x on the middle part is -kappa, so a phase rate of v/kappa moves the blade at v. */
  readonly kappa: number
  /** m, forward of the middle of the stroke */
  readonly x: PhaseFunction = { value: 0, slope: 0, curvature: 0 }
  /** 0 at the depth of the drive, 1 at the height of the recovery */
  readonly rise: PhaseFunction = { value: 0, slope: 0, curvature: 0 }
  /** 0 square, 1 feathered */
  readonly turn: PhaseFunction = { value: 0, slope: 0, curvature: 0 }
  readonly #half: number
  readonly #ramp: number
  readonly #dry: number
  readonly #turning: number
  readonly #c1: number
  readonly #c3: number
  readonly #c5: number

  /**
   * @param length m, from catch (phase 0) to exit (phase 0.5) along x
   * @param even 0..1, the share of the drive that is its middle part
   * @param wet 0..1, the value of `rise` up to which some of the blade may be under water
   */
  constructor(length: number, even: number, wet: number) {
    this.a = 0.25 - even / 4
    this.b = 0.25 + even / 4
    // Half the phase outside the middle part; u = (phase - 0.75)/half runs from -1 at b to 1 at a.
    const half = 0.5 - even / 4
    this.#half = half
    this.#ramp = RAMP * half
    this.#dry = this.b + this.#ramp * quinticInverse(wet)
    this.#turning = TURN * (PARK_PHASE - this.#dry)
    // Odd quintic with value +-even/4, slope -half and curvature 0 at u = +-1, for kappa = 1.
    const edge = even / 4
    const sum = edge + half
    this.#c5 = (3 / 8) * sum
    this.#c3 = (-5 / 4) * sum
    this.#c1 = edge + (7 / 8) * sum
    const catchAt = 0.25 / half
    this.kappa = length / 2 / (catchAt * (this.#c1 + catchAt ** 2 * (this.#c3 + catchAt ** 2 * this.#c5)))
  }

  /** Works out `x`, `rise` and `turn`, with their slopes and curvatures over the phase. @param phase [0, 1) */
  at(phase: number): void {
    const { x, rise, turn, kappa } = this
    if (phase >= this.a && phase <= this.b) {
      x.value = kappa * (0.25 - phase)
      x.slope = -kappa
      x.curvature = 0
      rise.value = rise.slope = rise.curvature = 0
      turn.value = turn.slope = turn.curvature = 0
      return
    }
    // Signed phase from the middle of the recovery, in (-half, half).
    const d = phase < this.a ? phase + 1 - PARK_PHASE : phase - PARK_PHASE
    const half = this.#half
    const u = d / half
    const u2 = u * u
    x.value = kappa * u * (this.#c1 + u2 * (this.#c3 + u2 * this.#c5))
    x.slope = (kappa / half) * (this.#c1 + u2 * (3 * this.#c3 + u2 * 5 * this.#c5))
    x.curvature = (kappa / (half * half)) * u * (6 * this.#c3 + u2 * 20 * this.#c5)
    const before = half - Math.abs(d)
    const sign = d < 0 ? 1 : -1
    ramp(rise, before / this.#ramp, sign / this.#ramp)
    ramp(turn, (before - (this.#dry - this.b)) / this.#turning, sign / this.#turning)
  }

  /** Weight of the recovery in the phase rate: 0 on the whole middle part, 1 while the blade is up; C2. @param phase [0, 1) */
  recovery(phase: number): number {
    if (phase >= this.a && phase <= this.b) return 0
    const d = phase < this.a ? phase + 1 - PARK_PHASE : phase - PARK_PHASE
    return quintic((this.#half - Math.abs(d)) / this.#ramp)
  }
}

function ramp(out: PhaseFunction, t: number, slope: number): void {
  out.value = quintic(t)
  out.slope = quinticSlope(t) * slope
  out.curvature = quinticCurvature(t) * slope * slope
}

/** The t in 0..1 at which the quintic has a value, by bisection. */
function quinticInverse(value: number): number {
  let low = 0
  let high = 1
  for (let i = 0; i < 60; i++) {
    const middle = (low + high) / 2
    if (quintic(middle) < value) low = middle
    else high = middle
  }
  return high
}
