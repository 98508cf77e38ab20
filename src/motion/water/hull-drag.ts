/** What the water holds against a hull that goes straight ahead or astern. */
import { expectNotNegative, expectPositive } from '../bounds.js'
import { GRAVITY } from '../gravity.js'
import type { Water } from './properties.js'

/** Drag of a hull as a function of its speed through the water along x. */
export interface Resistance {
  /** N against the motion: odd in `speed` (m/s), never of the other sign */
  force(speed: number): number
}

/** Below this Reynolds number the line's value here is used: it is a fit for turbulent flow, and has a pole at 100. */
const LEAST_REYNOLDS = 1e5

/**
 * Friction coefficient of a smooth plank, on its wetted area; held at its value for 1e5 below that Reynolds number.
 * Source: the ITTC-1957 model-ship correlation line, 8th International Towing Tank Conference (1957); ITTC 7.5-02-02-01.
 */
export function frictionLine(reynolds: number): number {
  const exponent = Math.log10(Math.max(reynolds, LEAST_REYNOLDS)) - 2
  return 0.075 / (exponent * exponent)
}

export interface WettedHull {
  /** m, wetted length: of the waterline */
  readonly length: number
  /** m2, wetted area at rest */
  readonly area: number
  /** k: what the hull's form adds to the friction of a plank of equal area, as a share of it; 0 is the plank, slim hulls 0.1 to 0.3 (common practice, no source) */
  readonly formFactor: number
}

/**
 * Drag by friction and form, rho/2 v^2 S (1 + k) Cf. Source: G. Hughes, Trans. RINA 96 (1954), as in ITTC 7.5-02-02-01. Waves
 * are not in it: good for half the displacement hull speed and less, too small above. Where a towed drag is known, a
 * `DragTable` is better.
 */
export class FrictionDrag implements Resistance {
  readonly #perSpeed: number
  readonly #scale: number

  /** @throws DrystrokeError `file-invalid` for a hull without extent or a negative form factor */
  constructor(hull: WettedHull, water: Water) {
    expectPositive('hull.wetted-length', hull.length, 'm')
    expectPositive('hull.wetted-area', hull.area, 'm2')
    expectNotNegative('hull.form-factor', hull.formFactor, '')
    this.#perSpeed = hull.length / water.viscosity
    this.#scale = 0.5 * water.density * hull.area * (1 + hull.formFactor)
  }

  force(speed: number): number {
    const size = Math.abs(speed)
    return this.#scale * frictionLine(size * this.#perSpeed) * speed * size
  }
}

/**
 * m/s at which the waves that a displacement hull makes are as long as its waterline: sqrt(g L / 2 pi). Drag grows steeply from about
 * here. Source: the dispersion of waves on deep water, c^2 = g lambda / 2 pi; Lamb, "Hydrodynamics", 6th ed. (1932), art. 229 (from memory).
 * @param length m, of the waterline
 * @throws DrystrokeError `file-invalid` for no length
 */
export function hullSpeed(length: number): number {
  expectPositive('hull.length', length, 'm')
  return Math.sqrt((GRAVITY * length) / (2 * Math.PI))
}
