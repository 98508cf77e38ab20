/**
 * The craft on the water as a rigid body in surge, sway and yaw, pulled by wrenches on its blades and held by its hull's
 * drag; fixed step, allocation-free.
 *
 *     m11 u' = X - R(u) + m22 v r,    m22 v' = Y - Dv(v) - m11 u r,    m66 r' = N - Dr(r) - (m22 - m11) u v
 *
 * with u, v, r through the water in the craft's axes, and m11, m22, m66 mass and added mass together. Source: the manoeuvring
 * equations in T. I. Fossen, "Handbook of Marine Craft Hydrodynamics and Motion Control", 2nd ed. (2021), ch. 6, with
 * velocities relative to a current that does not turn (10.3 there; section numbers from memory). The classical Runge-Kutta
 * step of fourth order integrates them, with the pull held over the step.
 *
 * What it leaves out: waves and wind; heave, roll and pitch; drag from sway and yaw at once, lift of the hull and of a
 * keel; shallow water. Centre of mass and middle of the hull are one point, on the centreline.
 */
import type { AddedMass, Damping } from '../../files/rig.js'
import { expectNotNegative, expectPositive, expectWithin } from '../bounds.js'
import { type HullForm, hullAddedMass } from './added-mass.js'
import type { Resistance } from './hull-drag.js'
import type { Water } from './properties.js'

export interface Hull extends HullForm {
  /** m, radius of gyration about z; a quarter of the length is usual (common practice, no source) */
  readonly gyration: number
  /** m, x of the centre of mass in the craft frame */
  readonly centre: number
  /** null or left out: as `hullAddedMass` has it */
  readonly added?: AddedMass | null
}

export interface LateralDamping {
  readonly sway: Damping
  readonly yaw: Damping
}

/**
 * Quadratic damping of a hull that is pushed broadside, strip by strip: rho/2 Cd L T in sway, rho/2 Cd T L^4/32 in yaw.
 * Source: the cross-flow principle, Fossen (2021) 6.4.3 (from memory), for a profile of even draught.
 * @param coefficient Cd of a section in cross flow: 0.6 for round bilges, 1.2 and more for sharp ones (common practice, no source)
 * @returns quadratic terms in N s2/m2 (sway) and N m s2 (yaw), linear ones zero
 * @throws DrystrokeError `file-invalid` for a negative coefficient
 */
export function crossFlowDamping(
  hull: HullForm,
  water: Pick<Water, 'density'>,
  coefficient: number,
): LateralDamping {
  expectNotNegative('hull.cross-flow', coefficient, '')
  const strip = 0.5 * water.density * coefficient * hull.draught
  return {
    sway: { linear: 0, quadratic: strip * hull.length },
    yaw: { linear: 0, quadratic: (strip * hull.length ** 4) / 32 },
  }
}

const N = 6

export class CraftMotion {
  /** x, y (m) of the centre and heading (rad, left +) over ground; then surge, sway (m/s), yaw rate (rad/s) through the water in the craft's axes */
  readonly state: Float64Array = new Float64Array(N)
  /** m/s over ground, along the ground's x and y */
  readonly current: Float64Array = new Float64Array(2)
  readonly #m11: number
  readonly #m22: number
  readonly #m66: number
  readonly #centre: number
  readonly #resistance: Resistance
  readonly #damping: LateralDamping
  readonly #period: number
  /** N, N, N m about the centre */
  readonly #pull = new Float64Array(3)
  readonly #k1 = new Float64Array(N)
  readonly #k2 = new Float64Array(N)
  readonly #k3 = new Float64Array(N)
  readonly #k4 = new Float64Array(N)
  readonly #trial = new Float64Array(N)

  /**
   * @param period s, of one step
   * @throws DrystrokeError `file-invalid` for a hull that cannot be, negative damping, or no period
   */
  constructor(
    hull: Hull,
    resistance: Resistance,
    damping: LateralDamping,
    water: Pick<Water, 'density'>,
    period: number,
  ) {
    const added = hull.added ?? hullAddedMass(hull, water)
    expectPositive('hull.gyration', hull.gyration, 'm')
    expectWithin('hull.centre', hull.centre, -hull.length, hull.length, 'm')
    expectNotNegative('hull.sway.linear', damping.sway.linear, 'N s/m')
    expectNotNegative('hull.sway.quadratic', damping.sway.quadratic, 'N s2/m2')
    expectNotNegative('hull.yaw.linear', damping.yaw.linear, 'N m s')
    expectNotNegative('hull.yaw.quadratic', damping.yaw.quadratic, 'N m s2')
    expectPositive('period', period, 's')
    this.#m11 = hull.mass + added.surge
    this.#m22 = hull.mass + added.sway
    this.#m66 = hull.mass * hull.gyration ** 2 + added.yaw
    this.#centre = hull.centre
    this.#resistance = resistance
    this.#damping = damping
    this.#period = period
  }

  /**
   * Adds what one blade (or anything else) does to the craft in the next step.
   * @param wrench six numbers, craft frame: force (N), moment (N m) about the place where it acts
   * @param x m, craft frame, where it acts; @param y m
   */
  pull(wrench: Float64Array, x: number, y: number): void {
    const fx = wrench[0]!
    const fy = wrench[1]!
    this.#pull[0]! += fx
    this.#pull[1]! += fy
    this.#pull[2]! += wrench[5]! + (x - this.#centre) * fy - y * fx
  }

  /** One period on; what pulled is spent. */
  step(): void {
    const { state } = this
    const h = this.#period
    const trial = this.#trial
    const k1 = this.#k1
    const k2 = this.#k2
    const k3 = this.#k3
    const k4 = this.#k4
    this.#slope(state, k1)
    for (let i = 0; i < N; i++) trial[i] = state[i]! + (h / 2) * k1[i]!
    this.#slope(trial, k2)
    for (let i = 0; i < N; i++) trial[i] = state[i]! + (h / 2) * k2[i]!
    this.#slope(trial, k3)
    for (let i = 0; i < N; i++) trial[i] = state[i]! + h * k3[i]!
    this.#slope(trial, k4)
    for (let i = 0; i < N; i++) state[i]! += (h / 6) * (k1[i]! + 2 * (k2[i]! + k3[i]!) + k4[i]!)
    this.#pull.fill(0)
  }

  /**
   * How the craft's way through the water begins to change under what pulls, in place of a step; what pulled is spent.
   * @param out three numbers: surge, sway (m/s2), yaw rate (rad/s2)
   */
  changes(out: Float64Array): void {
    this.#slope(this.state, this.#k1)
    for (let i = 0; i < 3; i++) out[i] = this.#k1[3 + i]!
    this.#pull.fill(0)
  }

  /** J: of craft and added water, relative to the water. */
  get energy(): number {
    const u = this.state[3]!
    const v = this.state[4]!
    const r = this.state[5]!
    return (this.#m11 * u * u + this.#m22 * v * v + this.#m66 * r * r) / 2
  }

  /**
   * Velocity over ground of the craft frame's origin along the craft's x and y (m/s), and yaw rate (rad/s), as `BladeForce.at` takes it.
   * @param out three numbers
   */
  overGround(out: Float64Array): void {
    this.currentHere(out)
    const r = this.state[5]!
    out[0]! += this.state[3]!
    out[1]! += this.state[4]! - this.#centre * r
    out[2] = r
  }

  /**
   * The current along the craft's x and y (m/s), as `BladeForce.at` takes it.
   * @param out two numbers or more; the first two are written
   */
  currentHere(out: Float64Array): void {
    const c = Math.cos(this.state[2]!)
    const s = Math.sin(this.state[2]!)
    out[0] = c * this.current[0]! + s * this.current[1]!
    out[1] = c * this.current[1]! - s * this.current[0]!
  }

  #slope(at: Float64Array, out: Float64Array): void {
    const heading = at[2]!
    const u = at[3]!
    const v = at[4]!
    const r = at[5]!
    const c = Math.cos(heading)
    const s = Math.sin(heading)
    const { sway, yaw } = this.#damping
    out[0] = c * u - s * v + this.current[0]!
    out[1] = s * u + c * v + this.current[1]!
    out[2] = r
    out[3] = (this.#pull[0]! - this.#resistance.force(u) + this.#m22 * v * r) / this.#m11
    out[4] = (this.#pull[1]! - damped(sway, v) - this.#m11 * u * r) / this.#m22
    out[5] = (this.#pull[2]! - damped(yaw, r) - (this.#m22 - this.#m11) * u * v) / this.#m66
  }
}

function damped({ linear, quadratic }: Damping, x: number): number {
  return (linear + quadratic * Math.abs(x)) * x
}
