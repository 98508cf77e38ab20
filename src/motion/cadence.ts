/**
 * How fast the phase runs. On the middle part of the drive it is v/kappa, so that the blade moves at the side speed v
 * exactly; on the recovery a slow stroke runs faster, but never across zero: a recovery follows its drive's direction.
 */

/** s of full side acceleration in which the least recovery rate builds up. */
const BUILD_UP = 0.25

export interface CadenceSettings {
  /** m per unit of phase */
  readonly kappa: number
  /** 1/s, least phase rate on the recovery */
  readonly least: number
  /** m/s, side speed at which the least rate has mostly built up */
  readonly knee: number
}

/**
 * @param kappa m per unit of phase @param least 1/s, least phase rate on the recovery @param acceleration m/s2, of the sides: the least
 * rate mostly builds up at the speed that it gives in a quarter of a second
 */
export function cadence(kappa: number, least: number, acceleration: number): CadenceSettings {
  return { kappa, least, knee: BUILD_UP * acceleration }
}

/** Places of the stroke at which `strokeRate` looks. */
const PLACES = 720

/**
 * Strokes a second at an even side speed, both directions alike.
 * @param v m/s, not zero; @param recovery share of the recovery's rate at a phase: `StrokeShape.recovery`
 */
export function strokeRate(
  v: number,
  settings: CadenceSettings,
  recovery: (phase: number) => number,
): number {
  const even = Math.abs(v) / settings.kappa
  const back = recoveryRate(Math.abs(v), settings)
  let time = 0
  for (let i = 0; i < PLACES; i++) time += 1 / (even + recovery((i + 0.5) / PLACES) * (back - even)) / PLACES
  return 1 / time
}

/**
 * Phase rate on the recovery, 1/s, at a side speed v (m/s): the 4-norm of v/kappa and least tanh(v/knee), with the sign of v. Both are odd and
 * analytic and have the same sign, so their norm is too: the rate passes zero with the speed, without a corner.
 */
export function recoveryRate(v: number, { kappa, least, knee }: CadenceSettings): number {
  const a = v / kappa
  const b = least * Math.tanh(v / knee)
  const norm = Math.sqrt(Math.sqrt(a * a * a * a + b * b * b * b))
  return v < 0 ? -norm : norm
}
