/** The built-in driver: velocity command to side speeds, to a place in each side's stroke, to joint setpoints. */
import type { Arm, Rig, Side } from '../files/rig.js'
import type { Command } from '../files/scenario.js'
import type { BladePath } from '../motion/blade.js'
import type { InverseKinematics } from '../motion/ik.js'
import { POSE } from '../motion/pose.js'
import type { SideMotion, SideSettings } from '../motion/side.js'
import { portSpeed, starboardSpeed } from '../motion/side-speeds.js'
import { SidePair } from '../motion/sides.js'
import type { Driver } from './contract.js'
import { demand, type SidePace, shareLeft, sidePace } from './pace.js'
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
  /** rad, that of the period before */
  readonly last: Float64Array
}

/** What a speed cap below 100 % leaves of each side's motion. */
interface Cap {
  readonly port: SidePace
  readonly starboard: SidePace
}

/** How often a period is tried shorter until its joints keep the cap, and how close to it each try aims. */
const MOST_TRIES = 8
const CLOSE = 0.995

export class ReferenceDriver implements Driver {
  readonly parkPose: Float64Array
  readonly strokes: Strokes
  readonly #rig: Rig
  readonly #sides: SidePair
  readonly #cap: Cap | null
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
    const strokes = strokesOf(rig)
    this.parkPose = new Float64Array(rig.joints.length)
    const arms = rig.arms.map((arm, i) => {
      const path = strokes.paths[i]!
      const ik = kinematicsOf(rig, arm)
      const park = parkPosture(rig, arm, path, ik)
      arm.joints.forEach((index, k) => {
        this.parkPose[index] = park[k]!
      })
      return { arm, path, ik, park, q: park.slice(), last: park.slice() }
    })
    const paceOf = (side: Side): SidePace =>
      sidePace(
        rig,
        arms.filter((a) => a.arm.side === side),
      )
    this.#cap = rig.motion.speedCap < 1 ? { port: paceOf('port'), starboard: paceOf('starboard') } : null
    this.strokes = { ...strokes, side: slowed(strokes.side, this.#cap) }
    const sides = new SidePair(rig.stroke.sides, this.strokes.side)
    this.#sides = sides
    this.#arms = arms.map((a) => ({ ...a, side: sides[a.arm.side] }))
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
    const port = this.#hasPort ? gain * portSpeed(command.surge, command.yaw, craft.track) : 0
    const starboard = this.#hasStarboard ? gain * starboardSpeed(command.surge, command.yaw, craft.track) : 0
    if (this.#cap) this.#stepBelow(this.#cap, port, starboard)
    else {
      this.#sides.step(port, starboard)
      this.#solve()
    }
    for (const { arm, q } of this.#arms) for (let i = 0; i < q.length; i++) out[arm.joints[i]!] = q[i]!
  }

  /** One period of which no joint moves farther than the cap lets it. */
  #stepBelow(cap: Cap, port: number, starboard: number): void {
    const sides = this.#sides
    const { nextRates } = sides
    const pace = shareLeft(
      demand(cap.port, sides.port.phase, nextRates.port),
      demand(cap.starboard, sides.starboard.phase, nextRates.starboard),
    )
    const goBack = sides.keep()
    for (const { q, last } of this.#arms) last.set(q)
    let brake = 1
    for (let tries = 1; ; tries++) {
      sides.step(port, starboard, pace, brake)
      this.#solve()
      const excess = this.#excess()
      // A joint that leaps, however short the step, is the last gate's business.
      if (excess <= 1 || tries === MOST_TRIES) return
      brake *= CLOSE / excess
      goBack()
      for (const { q, last } of this.#arms) q.set(last)
    }
  }

  /** Greatest share of the way that the cap gives a joint in one period. */
  #excess(): number {
    const { joints, motion, control } = this.#rig
    let most = 0
    for (const { arm, q, last } of this.#arms) {
      for (let i = 0; i < q.length; i++) {
        const way = motion.speedCap * joints[arm.joints[i]!]!.limits.speed * control.period
        most = Math.max(most, Math.abs(q[i]! - last[i]!) / way)
      }
    }
    return most
  }

  /** @throws DrystrokeError `unreachable` */
  #solve(): void {
    for (const { arm, side, path, ik, q } of this.#arms) {
      path.pose(side, this.#target)
      const outcome = ik.solve(this.#target, q)
      if (outcome !== 'solved' || ik.singularity < this.#rig.driver.singularity) {
        throw unreachable(arm, jointsOf(this.#rig, arm), side, outcome, ik, this.#rig.driver.singularity)
      }
    }
  }
}

/** Lifting and carrying take as long as the cap wants. */
function slowed(side: SideSettings, cap: Cap | null): SideSettings {
  if (!cap) return side
  const paces = [cap.port, cap.starboard]
  return {
    ...side,
    liftTime: Math.max(side.liftTime, ...paces.map((p) => p.liftTime)),
    carryTime: Math.max(side.carryTime, ...paces.map((p) => p.carryTime)),
  }
}
