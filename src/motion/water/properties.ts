/** Density and viscosity of fresh water at atmospheric pressure. Salt water: give both figures instead. */
import type { WaterSettings } from '../../files/rig.js'
import { expectWithin } from '../bounds.js'

export interface Water {
  /** kg/m3 */
  readonly density: number
  /** m2/s, kinematic: dynamic viscosity over density */
  readonly viscosity: number
}

/** Degrees Celsius between which both formulas hold. */
const COLDEST = 0
const WARMEST = 40

/**
 * @param temperature degrees Celsius, the unit that both formulas are written in
 * @throws DrystrokeError `file-invalid` outside 0..40
 */
export function freshWater(temperature: number): Water {
  expectWithin('water.temperature', temperature, COLDEST, WARMEST, 'degC')
  const rho = density(temperature)
  return { density: rho, viscosity: dynamicViscosity(temperature) / rho }
}

/**
 * The water that a rig states. Where density alone is stated the viscosity is fresh water's dynamic one over it: sea water's is
 * some 7 % more (common practice, no source), of little account to friction.
 * @throws DrystrokeError `file-invalid` for a temperature outside 0..40 degrees Celsius
 */
export function waterOf({ temperature, density, viscosity }: WaterSettings): Water {
  const fresh = freshWater(temperature)
  const rho = density ?? fresh.density
  return { density: rho, viscosity: viscosity ?? (fresh.viscosity * fresh.density) / rho }
}

/**
 * kg/m3 at `t` degrees Celsius, air-free standard mean ocean water (its isotopes, not its salt) at 101.325 kPa; 0..40.
 * Source: M. Tanaka, G. Girard, R. Davis, A. Peuto and N. Bignell, "Recommended table for the density of water between
 * 0 C and 40 C based on recent experimental reports", Metrologia 38:301-309 (2001).
 */
function density(t: number): number {
  const fromMost = t - 3.983035
  return 999.97495 * (1 - (fromMost * fromMost * (t + 301.797)) / (522528.9 * (t + 69.34881)))
}

/**
 * Pa s at `t` degrees Celsius and 0.1 MPa; -20..110, within 1 %.
 * Source: J. Patek, J. Hruby, J. Klomfar, M. Souckova and A. H. Harvey, "Reference correlations for thermophysical
 * properties of liquid water at 0.1 MPa", J. Phys. Chem. Ref. Data 38(1):21-29 (2009).
 */
function dynamicViscosity(t: number): number {
  const ratio = (t + 273.15) / 300
  return (
    1e-6 *
    (280.68 * ratio ** -1.9 + 511.45 * ratio ** -7.7 + 61.131 * ratio ** -19.6 + 0.45903 * ratio ** -40)
  )
}
