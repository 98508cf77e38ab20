/**
 * The force of water on a blade that moves through it, allocation-free.
 *
 * Lift Cl = Al sin 2a and drag Cd = Ad sin^2 a on the wet area, `a` the angle between the velocity through the water and
 * the blade's face, whatever the velocity's direction in the face. Source: N. Caplan and T. Gardner, "A fluid dynamic
 * investigation of the Big Blade and Macon oar blade designs in rowing propulsion", J. Sports Sciences 25(6):643-650
 * (2007), whose flume data these two curves are fits to; plates and oar blades are close to each other there.
 *
 * With velocity U and its part Un along the unit normal N, both coefficients together are, without any angle,
 *     F/A = -rho/2 (2 Al |U| Un N + (Ad - 2 Al) Un^2 U/|U|),    power U.F/A = -rho/2 Ad Un^2 |U|: never positive.
 * It is summed over points of the wet area, so that a blade that turns while it moves has its force and moment from the
 * speed that each place has.
 *
 * What it leaves out: ventilation (air drawn down behind the blade) and splash, both of which make a blade near the
 * surface weaker; skin friction; the shift of the centre of pressure towards the leading edge at small angles; stall;
 * of the added mass, the products of velocities that Kirchhoff's equations have for a blade that turns as it goes (on the even part of
 * a drive it hardly does); waves; what water that the other blade or the hull has moved does. Heave, roll and pitch of the craft are taken as none.
 */
import type { BladeFlow } from '../../files/rig.js'
import { expectNotNegative } from '../bounds.js'
import { type BladeShape, Immersion, STRIP } from './immersion.js'
import type { Water } from './properties.js'

/** A flat plate. Curved oar blades: lift 1.24 to 1.25, drag 1.90 to 2.07. Source: the fits named above. */
export const FLAT_PLATE: BladeFlow = { lift: 1.3, drag: 2, added: 1 }

/** Points across each strip: Gauss-Legendre, as the strips are. */
const NODES = Float64Array.of(-0.7745966692414834, 0, 0.7745966692414834)
const WEIGHTS = Float64Array.of(5 / 9, 8 / 9, 5 / 9)

export class BladeForce {
  /** What is under water at the last `at`. */
  readonly wet: Immersion
  readonly #flow: BladeFlow
  readonly #density: number
  /** kg/m3: added mass of a strip, per metre and square metre of chord */
  readonly #added: number

  /**
   * @param waterline m, how far the water lies below the craft frame's origin
   * @throws DrystrokeError `file-invalid` for a blade that is none, or a negative coefficient
   */
  constructor(shape: BladeShape, flow: BladeFlow, water: Pick<Water, 'density'>, waterline: number) {
    expectNotNegative('blade.lift', flow.lift, '')
    expectNotNegative('blade.drag', flow.drag, '')
    expectNotNegative('blade.added', flow.added, '')
    this.wet = new Immersion(shape, waterline)
    this.#flow = flow
    this.#density = water.density
    this.#added = flow.added * water.density * (Math.PI / 4)
  }

  /**
   * The wrench of lift and drag, by the water on the blade. Everything in the craft frame.
   * @param pose T_craft_blade
   * @param twist six numbers: velocity of the blade's centre (m/s) and angular velocity (rad/s) relative to the craft, as a Jacobian gives them
   * @param craft three numbers: velocity of the craft frame's origin over ground along x and y (m/s), yaw rate (rad/s)
   * @param current two numbers: velocity of the water over ground along the craft's x and y (m/s)
   * @param out six numbers: force (N), and moment about the blade's centre (N m)
   */
  at(
    pose: Float64Array,
    twist: Float64Array,
    craft: Float64Array,
    current: Float64Array,
    out: Float64Array,
  ): void {
    const { wet } = this
    wet.at(pose)
    const { strips, normal, shaft, across } = wet
    const n0 = normal[0]!
    const n1 = normal[1]!
    const n2 = normal[2]!
    const yaw = craft[2]!
    // Of the blade's centre through the water.
    const v0 = twist[0]! + craft[0]! - yaw * pose[10]! - current[0]!
    const v1 = twist[1]! + craft[1]! + yaw * pose[9]! - current[1]!
    const v2 = twist[2]!
    const w0 = twist[3]!
    const w1 = twist[4]!
    const w2 = twist[5]! + yaw
    const along = -this.#density * this.#flow.lift
    const against = -0.5 * this.#density * (this.#flow.drag - 2 * this.#flow.lift)
    out.fill(0)
    for (let s = 0; s < STRIP * wet.count; s += STRIP) {
      const x = strips[s]!
      const half = (strips[s + 3]! - strips[s + 2]!) / 2
      const middle = (strips[s + 3]! + strips[s + 2]!) / 2
      for (let i = 0; i < NODES.length; i++) {
        const y = middle + half * NODES[i]!
        const area = strips[s + 1]! * half * WEIGHTS[i]!
        const r0 = x * shaft[0]! + y * across[0]!
        const r1 = x * shaft[1]! + y * across[1]!
        const r2 = x * shaft[2]! + y * across[2]!
        const u0 = v0 + w1 * r2 - w2 * r1
        const u1 = v1 + w2 * r0 - w0 * r2
        const u2 = v2 + w0 * r1 - w1 * r0
        const speed = Math.sqrt(u0 * u0 + u1 * u1 + u2 * u2)
        if (speed === 0) continue
        const un = u0 * n0 + u1 * n1 + u2 * n2
        const p = along * speed * un * area
        const q = ((against * un * un) / speed) * area
        const f0 = p * n0 + q * u0
        const f1 = p * n1 + q * u1
        const f2 = p * n2 + q * u2
        out[0]! += f0
        out[1]! += f1
        out[2]! += f2
        out[3]! += r1 * f2 - r2 * f1
        out[4]! += r2 * f0 - r0 * f2
        out[5]! += r0 * f1 - r1 * f0
      }
    }
  }

  /**
   * kg: the water that the wet part takes along when it accelerates along its normal, at the last `at`.
   * Source: a plate of width w and length l, square to its face: rho pi/4 w^2 l. H. Lamb, "Hydrodynamics", 6th ed. (1932), art. 71;
   * from memory. Strip by strip, times `BladeFlow.added`.
   */
  get addedMass(): number {
    const { strips, count } = this.wet
    let sum = 0
    for (let s = 0; s < STRIP * count; s += STRIP) {
      const chord = strips[s + 3]! - strips[s + 2]!
      sum += strips[s + 1]! * chord * chord
    }
    return this.#added * sum
  }

  /**
   * Adds the wrench of the added mass to `out`, at the pose of the last `at`: each strip resists the acceleration of its
   * middle along the normal by rho pi/4 w^2 for each metre, and angular acceleration about the shaft by rho pi/128 w^4 (same
   * source). What comes of the wet area growing or shrinking (the blow of entry) is left out.
   * @param acceleration six numbers, craft frame: the blade centre's (m/s2) and angular (rad/s2), relative to the water
   * @param out six numbers, as in `at`
   */
  addInertia(acceleration: Float64Array, out: Float64Array): void {
    const { strips, count, normal, shaft, across } = this.wet
    const a = dot(acceleration, 0, normal)
    const about = dot(acceleration, 3, shaft)
    const lean = dot(acceleration, 3, across)
    let force = 0
    let aboutShaft = 0
    let aboutAcross = 0
    for (let s = 0; s < STRIP * count; s += STRIP) {
      const x = strips[s]!
      const y = (strips[s + 3]! + strips[s + 2]!) / 2
      const chord = strips[s + 3]! - strips[s + 2]!
      const mass = this.#added * strips[s + 1]! * chord * chord
      // The triad is right-handed: normal x shaft = across. So (across x shaft) = -normal, and so on.
      const f = -mass * (a + about * y - lean * x)
      force += f
      aboutShaft += y * f - ((mass * chord * chord) / 32) * about
      aboutAcross -= x * f
    }
    for (let i = 0; i < 3; i++) {
      out[i]! += force * normal[i]!
      out[3 + i]! += aboutShaft * shaft[i]! + aboutAcross * across[i]!
    }
  }
}

function dot(a: Float64Array, from: number, b: Float64Array): number {
  return a[from]! * b[0]! + a[from + 1]! * b[1]! + a[from + 2]! * b[2]!
}
