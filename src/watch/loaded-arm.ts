/** One arm as the load watch follows it: its measured motion, the torques that the model makes of it, and what became of them. */
import type { Nanos } from '../clock.js'
import type { Arm, Joint, Rating, Rig } from '../files/rig.js'
import { ArmTorques } from '../motion/arm-torques.js'
import { accelerationNoiseGain, speedNoiseGain } from '../motion/differentiator.js'
import { isWeighed, type WeighedJoint } from '../motion/laden-arm.js'
import { torqueLimit } from '../motion/torque-limit.js'
import type { Water } from '../motion/water/properties.js'
import { ArmMotion } from './arm-motion.js'
import type { LoadPrediction } from './load-prediction.js'
import { LoadRecord } from './load-record.js'
import { positionNoise } from './noise.js'
import { TorqueTrust } from './torque-trust.js'

/** A joint that says what its link weighs, and what its drive bears. */
export type RatedJoint = WeighedJoint & { readonly rating: Rating }

export const isRated = (joint: Joint): joint is RatedJoint => isWeighed(joint) && joint.rating !== null

/** Standard deviations of its noise below which a speed is none. */
const STILL = 4

export interface LoadSettings {
  /** samples of the fits */
  readonly window: number
  /** s, or null */
  readonly trip: number | null
  /** The run was afloat already, so that what drives told has the water in it. */
  readonly afloat: boolean
}

/** The most that the end of an arm carried. */
class Carried {
  /** kg, as a still mass that loads it as much */
  most = 0
  /** m from the base to the blade's centre */
  reach = 0
  at: Nanos = 0

  see(mass: number, reach: number, t: Nanos): void {
    if (mass <= this.most) return
    this.most = mass
    this.reach = reach
    this.at = t
  }
}

export class LoadedArm {
  readonly joints: readonly RatedJoint[]
  /** By condition and joint, from base to tip. */
  readonly dry: readonly LoadRecord[]
  readonly afloat: readonly LoadRecord[]
  readonly told: readonly LoadRecord[]
  readonly trust: readonly TorqueTrust[]
  /** What the end of the arm carried, dry and afloat. */
  readonly carried = { dry: new Carried(), afloat: new Carried() }
  /** m from the base to the blade's centre, at most */
  farthest = 0
  /** How many were judged, and those of them that nobody had asked for, as a SYNC had come early or late. */
  readonly motions = { judged: 0, unasked: 0 }
  readonly #arm: Arm
  readonly #motion: ArmMotion
  readonly #torques: ArmTorques
  readonly #afloat: boolean
  readonly #noise: Float64Array
  /** m2 of the blade that must be under water for a catch, and whether it may catch: it has been out since. */
  readonly #catch: number
  #out = false
  /** Motions in which joints still come back to their setpoints, after a SYNC that came early or late; and how many that takes. */
  #settling = 0
  readonly #settles: number

  /** @param joints the arm's own, from base to tip @param water null: nothing is said of afloat */
  constructor(
    rig: Rig,
    arm: Arm,
    joints: readonly RatedJoint[],
    water: Water | null,
    { window, trip, afloat }: LoadSettings,
  ) {
    const { period } = rig.control
    const { noise } = rig.simulation.feedback
    this.joints = joints
    this.#arm = arm
    this.#settles = Math.ceil(rig.link.windowTimeout / period)
    this.#motion = new ArmMotion(
      joints.length,
      window,
      period,
      Float64Array.from(joints, (j) => torqueLimit(rig, j)),
    )
    const still = Float64Array.from(
      joints,
      (j) => STILL * positionNoise(j, noise) * speedNoiseGain(window, period),
    )
    this.#noise = Float64Array.from(
      joints,
      (j) => positionNoise(j, noise) * accelerationNoiseGain(window, period),
    )
    this.#torques = new ArmTorques(rig.craft, arm, joints, still, water)
    this.#afloat = afloat
    this.#catch = arm.paddle.area / 2
    const records = () => joints.map((j) => new LoadRecord(j.name, j.rating, trip, period))
    this.dry = records()
    this.afloat = records()
    this.told = records()
    this.trust = joints.map(() => new TorqueTrust())
  }

  /** @param place of the joint in the arm @returns true: there is a motion to `judge` */
  see(place: number, index: number, position: number, torque: number): boolean {
    return this.#motion.see(place, index, position, torque)
  }

  /**
   * The SYNC of this index came early or late, so that setpoints did: the drives held still, or hurried. What the joints do until they
   * may be expected at their setpoints again (`link.window-timeout`) no driver has asked for.
   */
  uneven(index: number): void {
    this.#motion.uneven(index)
    this.#settling = this.#settles
  }

  /**
   * Takes the motion that `see` has told of. What it would take afloat is foretold of motions that a driver asked for; the model is held
   * against drives on them alone, and where they had torque to spare.
   * @param told the drives' torques are their own, and no simulation's invention
   */
  judge(prediction: LoadPrediction | null, told: boolean, t: Nanos): void {
    const { q, qd, qdd, torque } = this.#motion
    const torques = this.#torques
    const { blade, dry, afloat } = torques
    const asked = this.#settling === 0
    if (!asked) this.#settling--
    this.motions.judged++
    if (!asked) this.motions.unasked++
    const evidence = asked && !this.#motion.atLimit
    torques.at(q, qd, qdd)
    prediction?.wet(torques)
    if (torques.area === 0) this.#out = true
    const catches = this.#out && torques.area > this.#catch
    if (catches) this.#out = false
    const model = this.#afloat && prediction !== null ? afloat : dry
    for (let i = 0; i < q.length; i++) {
      if (catches) this.#catches(i, t)
      this.dry[i]!.see(dry[i]!, blade, t)
      if (prediction !== null && asked) this.afloat[i]!.see(afloat[i]!, blade, t)
      if (!told) continue
      this.told[i]!.see(torque[i]!, blade, t)
      if (evidence) this.trust[i]!.see(model[i]!, torque[i]!)
    }
    this.#carry(prediction !== null && asked, t)
  }

  /** Strokes that are under way are no whole ones. */
  breaks(): void {
    this.#out = false
    for (const records of [this.dry, this.afloat, this.told]) for (const record of records) record.breaks()
  }

  /** N m, standard deviations: what encoder noise makes of each joint's torque, where the arm was last. */
  noise(): Float64Array {
    const out = new Float64Array(this.joints.length)
    this.#torques.noise(this.#motion.q, this.#noise, out)
    return out
  }

  #catches(i: number, t: Nanos): void {
    this.dry[i]!.catches(t)
    this.afloat[i]!.catches(t)
    this.told[i]!.catches(t)
  }

  #carry(afloat: boolean, t: Nanos): void {
    const torques = this.#torques
    const { blade } = torques
    const { at } = this.#arm.base
    const reach = Math.hypot(blade[9]! - at[0], blade[10]! - at[1], blade[11]! - at[2])
    if (reach > this.farthest) this.farthest = reach
    this.carried.dry.see(torques.carried(null), reach, t)
    if (afloat) this.carried.afloat.see(torques.carried(torques.wrench), reach, t)
  }
}
