/** The built-in driver: velocity command to side speeds, to a place in each side's stroke, to joint setpoints. */
import type { Arm, Rig } from '../files/rig.js'
import type { Command } from '../files/scenario.js'
import type { BladePath } from '../motion/blade.js'
import type { InverseKinematics } from '../motion/ik.js'
import { POSE } from '../motion/pose.js'
import type { SideMotion } from '../motion/side.js'
import { portSpeed, starboardSpeed } from '../motion/side-speeds.js'
import { SidePair } from '../motion/sides.js'
import type { Driver } from './contract.js'
import { jointsOf, kinematicsOf, parkPosture } from './posture.js'
import { type Strokes, strokesOf } from './strokes.js'
import { unreachable } from './unreachable.js'

/** One arm as the driver sees it. */
interface ArmState {
  readonly arm: Arm
  readonly side: SideMotion
  readonly path: BladePath
  readonly ik: InverseKinematics
  readonly park: Float64Array
  /** rad, the arm's own joints: the last solution, where the next one starts */
  readonly q: Float64Array
}

export class ReferenceDriver implements Driver {
  readonly parkPose: Float64Array
  readonly strokes: Strokes
  readonly #rig: Rig
  readonly #sides: SidePair
  readonly #arms: readonly ArmState[]
  readonly #target = new Float64Array(POSE)
  readonly #hasPort: boolean
  readonly #hasStarboard: boolean

  /**
   * @throws DrystrokeError `unreachable` when an arm cannot reach its park place, `file-invalid` for a blade or a set of
   * constrained axes that makes no sense
   */
  constructor(rig: Rig) {
    this.#rig = rig
    this.strokes = strokesOf(rig)
    const sides = new SidePair(rig.stroke.sides, this.strokes.side)
    this.#sides = sides
    this.parkPose = new Float64Array(rig.joints.length)
    this.#arms = rig.arms.map((arm, i) => {
      const path = this.strokes.paths[i]!
      const ik = kinematicsOf(rig, arm)
      const park = parkPosture(rig, arm, path, ik)
      arm.joints.forEach((index, k) => {
        this.parkPose[index] = park[k]!
      })
      return { arm, side: sides[arm.side], path, ik, park, q: park.slice() }
    })
    this.#hasPort = rig.arms.some((arm) => arm.side === 'port')
    this.#hasStarboard = rig.arms.some((arm) => arm.side === 'starboard')
  }

  get parked(): boolean {
    return this.#sides.parked
  }

  /** The two sides' places and speeds after the last step, for checks and displays. */
  get sides(): Readonly<Pick<SidePair, 'port' | 'starboard'>> {
    return this.#sides
  }

  begin(): void {
    this.#sides.begin()
    for (const { q, park } of this.#arms) q.set(park)
  }

  step(command: Command, out: Float64Array): void {
    const { craft, driver } = this.#rig
    const gain = 1 + driver.slip
    this.#sides.step(
      this.#hasPort ? gain * portSpeed(command.surge, command.yaw, craft.track) : 0,
      this.#hasStarboard ? gain * starboardSpeed(command.surge, command.yaw, craft.track) : 0,
    )
    for (const { arm, side, path, ik, q } of this.#arms) {
      path.pose(side, this.#target)
      const outcome = ik.solve(this.#target, q)
      if (outcome !== 'solved' || ik.singularity < driver.singularity) {
        throw unreachable(arm, jointsOf(this.#rig, arm), side, outcome, ik, driver.singularity)
      }
      for (let i = 0; i < q.length; i++) out[arm.joints[i]!] = q[i]!
    }
  }
}
