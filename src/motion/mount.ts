/**
 * What an arm is fixed to, as a cantilever with a mass at its tip: how stiff it is, how it rings, how far the blade gives way.
 *
 * Bending by Euler and Bernoulli: an even, slender beam, clamped without play, small deflections, without the arm's own give and without
 * damping; the tip mass is a point. Real clamps give way, so that a measured deflection is the better figure. Source: R. D. Blevins,
 * "Formulas for Natural Frequency and Mode Shape" (1979), table 8-1 and 8-8 (tables' numbers from memory).
 */
import type { MountSettings } from '../files/rig.js'
import { expectNotNegative, expectPositive, refuse } from './bounds.js'

export interface MountSection {
  /** Pa, Young's modulus */
  readonly modulus: number
  /** m4, second moment of area for bending the way the load pulls; for slotted profiles take the maker's figure */
  readonly inertia: number
  /** m, from the clamp to where the arm is bolted on */
  readonly length: number
  /** kg/m */
  readonly massPerLength: number
}

/** A cantilever by what it does at its tip. */
export interface Mount {
  /** N/m, at the tip */
  readonly stiffness: number
  /** kg, of the beam itself */
  readonly mass: number
}

/**
 * m4 of a rectangle that is `height` (m) high in the plane of bending and `width` (m) wide: (w h^3 - the hollow's) / 12; a `wall` (m)
 * leaves a hollow box, solid without.
 * @throws DrystrokeError `file-invalid` for figures of zero or less, or walls thicker than half the section
 */
export function boxInertia(width: number, height: number, wall = Math.min(width, height) / 2): number {
  expectPositive('mount.width', width, 'm')
  expectPositive('mount.height', height, 'm')
  expectPositive('mount.wall', wall, 'm')
  if (2 * wall > Math.min(width, height)) {
    refuse('mount.wall', wall, 'm', `${Math.min(width, height) / 2} m or less, half the section`)
  }
  return (width * height ** 3 - (width - 2 * wall) * (height - 2 * wall) ** 3) / 12
}

/**
 * 3 E I / L^3.
 * @throws DrystrokeError `file-invalid` for figures of zero or less
 */
export function mountOfSection(section: MountSection): Mount {
  const { modulus, inertia, length, massPerLength } = section
  expectPositive('mount.modulus', modulus, 'Pa')
  expectPositive('mount.inertia', inertia, 'm4')
  expectPositive('mount.length', length, 'm')
  expectPositive('mount.mass-per-length', massPerLength, 'kg/m')
  return { stiffness: (3 * modulus * inertia) / length ** 3, mass: massPerLength * length }
}

/**
 * From one pull at the tip, square to the beam. @param load N; @param deflection m, at the same place; @param mass kg, of the beam, zero if it is little beside the arm
 * @throws DrystrokeError `file-invalid` for a load or a deflection of zero or less
 */
export function mountOfDeflection(load: number, deflection: number, mass: number): Mount {
  expectPositive('mount.load', load, 'N')
  expectPositive('mount.deflection', deflection, 'm')
  expectNotNegative('mount.mass', mass, 'kg')
  return { stiffness: load / deflection, mass }
}

/** The mount that a rig states. */
export function mountOf({ length, beam }: MountSettings): Mount {
  if (beam.kind === 'measured') return mountOfDeflection(beam.load, beam.deflection, beam.mass)
  return mountOfSection({ ...beam, length })
}

/** Hz, first bending frequency of the mount that a rig states, with an arm at its tip. */
export function ownFrequency(settings: MountSettings): number {
  return firstFrequency(mountOf(settings), settings.tipMass)
}

/** m at the tip, under a load (N) at the tip and square to the beam: P L^3 / 3 E I. */
export function tipDeflection({ stiffness }: Mount, load: number): number {
  return load / stiffness
}

/**
 * m at the blade, under a load (N) on it, with a rigid arm that reaches on for `reach` m in the line of the beam: tip's way, and tip's slope
 * times the reach, P ((L + a)^3 - a^3) / 3 E I. @param length m, of the beam
 * @throws DrystrokeError `file-invalid` for no length, or a negative reach
 */
export function bladeDeflection({ stiffness }: Mount, length: number, reach: number, load: number): number {
  expectPositive('mount.length', length, 'm')
  expectNotNegative('mount.reach', reach, 'm')
  const a = reach / length
  return (load / stiffness) * (1 + 3 * a + 3 * a * a)
}

/**
 * Hz, first bending frequency: the smallest root b of
 *     1 + cos b cosh b + mu b (cos b sinh b - sin b cosh b) = 0,  mu = tip mass / beam mass,  f = b^2/(2 pi) sqrt(E I / m L^4).
 * E I / m L^4 is stiffness / (3 beam mass), so that a measured stiffness serves as well. Without a tip mass b^2 = 3.51602.
 * @param tipMass kg, what the arm weighs there; @throws DrystrokeError `file-invalid` when there is no mass at all
 */
export function firstFrequency({ stiffness, mass }: Mount, tipMass: number): number {
  expectNotNegative('mount.tip-mass', tipMass, 'kg')
  if (mass === 0) {
    expectPositive('mount.tip-mass', tipMass, 'kg')
    return Math.sqrt(stiffness / tipMass) / (2 * Math.PI)
  }
  const b = firstRoot(tipMass / mass)
  return ((b * b) / (2 * Math.PI)) * Math.sqrt(stiffness / (3 * mass))
}

/** By bisection: over cosh b the left side falls from 2 to below 0 between 0 and 1.8752, whatever mu is. */
function firstRoot(mu: number): number {
  let low = 0
  let high = 1.8752
  for (let i = 0; i < 60; i++) {
    const b = (low + high) / 2
    const side = 1 / Math.cosh(b) + Math.cos(b) + mu * b * (Math.cos(b) * Math.tanh(b) - Math.sin(b))
    if (side > 0) low = b
    else high = b
  }
  return (low + high) / 2
}

export interface Closeness {
  /** Which multiple of the fundamental; 1 is the fundamental itself */
  readonly order: number
  /** Hz */
  readonly frequency: number
  /** How far the line lies above (+) or below (-) the mount's own frequency, as a share of that */
  readonly margin: number
}

/**
 * The harmonic of a stroke that lies nearest to the mount's own frequency. A measured vibration line is the case `most` = 1.
 * A margin of 20 % or more either way is asked for as a rule (common practice, no source).
 * @param natural Hz, of the mount; @param fundamental Hz, strokes a second or the line; @param most the highest harmonic looked at
 * @throws DrystrokeError `file-invalid` for frequencies of zero or less, or a `most` that is no whole number from 1
 */
export function nearestHarmonic(natural: number, fundamental: number, most: number): Closeness {
  expectPositive('mount frequency', natural, 'Hz')
  expectPositive('fundamental', fundamental, 'Hz')
  if (!Number.isInteger(most) || most < 1) refuse('harmonics', most, '', 'a whole number, 1 or more')
  const order = Math.min(most, Math.max(1, Math.round(natural / fundamental)))
  const frequency = order * fundamental
  return { order, frequency, margin: frequency / natural - 1 }
}
