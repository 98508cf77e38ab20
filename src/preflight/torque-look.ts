/**
 * The torques that a scenario's commands take of the drives, by inverse dynamics on the driver's setpoints: arms in air, paddle in hand,
 * friction of the drive train on top. Water is not in it.
 */
import type { Arm, Body, Rig, Train } from '../files/rig.js'
import { Dynamics } from '../motion/dynamics.js'
import { friction } from '../motion/friction.js'
import { Links } from '../motion/links.js'
import { paddleBody } from '../motion/paddle-body.js'
import { torqueLimit } from '../motion/torque-limit.js'
import type { Middle, MiddleLook } from './middle.js'
import { Peaks } from './peaks.js'

/** One arm's equations of motion and their working space. */
interface Weighed {
  readonly arm: Arm
  readonly trains: readonly Train[]
  readonly dynamics: Dynamics
  readonly q: Float64Array
  readonly qd: Float64Array
  readonly qdd: Float64Array
  readonly torque: Float64Array
  readonly rubbing: Float64Array
}

export class TorqueLook implements MiddleLook {
  /** Arms whose joints all state a body. */
  readonly arms: readonly Arm[]
  /** Shares of what each drive may give; beside it: N m. */
  readonly torque: Peaks
  /** The same if every joint were braked evenly at the rig's quick-stop deceleration at that place. */
  readonly braking: Peaks
  readonly #rig: Rig
  readonly #weighed: readonly Weighed[]
  readonly #limits: Float64Array
  readonly #squares: Float64Array
  #seen = 0

  constructor(rig: Rig) {
    const n = rig.joints.length
    this.#rig = rig
    this.#weighed = rig.arms.flatMap((arm) => weighed(rig, arm))
    this.arms = this.#weighed.map(({ arm }) => arm)
    this.#limits = Float64Array.from(rig.joints, (joint) => torqueLimit(rig, joint))
    this.torque = new Peaks(n)
    this.braking = new Peaks(n)
    this.#squares = new Float64Array(n)
  }

  /** N m, root of the mean square over the scenario; the same heat as this torque all the time. */
  effective(j: number): number {
    return Math.sqrt(this.#squares[j]! / Math.max(1, this.#seen))
  }

  see(middle: Middle): void {
    this.#seen++
    for (const w of this.#weighed) {
      for (let i = 0; i < w.q.length; i++) {
        const j = w.arm.joints[i]!
        w.q[i] = middle.q[j]!
        w.qd[i] = middle.qd[j]!
        w.qdd[i] = middle.qdd[j]!
      }
      this.#weigh(w, middle.phase[w.arm.index]!)
    }
  }

  #weigh({ arm, trains, dynamics, q, qd, qdd, torque, rubbing }: Weighed, phase: number): void {
    friction(trains, qd, rubbing)
    dynamics.inverse(q, qd, qdd, null, torque)
    for (let i = 0; i < q.length; i++) {
      const j = arm.joints[i]!
      const t = torque[i]! + rubbing[i]!
      this.#squares[j] = this.#squares[j]! + t * t
      this.torque.offer(j, Math.abs(t) / this.#limits[j]!, phase, Math.abs(t))
    }
    const { quickStop } = this.#rig.link
    const brief = quickStop * this.#rig.control.period
    for (let i = 0; i < q.length; i++) {
      const speed = qd[i]!
      // Whoever stands within a control period is hardly braked.
      qdd[i] = Math.abs(speed) < brief ? 0 : -Math.sign(speed) * quickStop
    }
    dynamics.inverse(q, qd, qdd, null, torque)
    for (let i = 0; i < q.length; i++) {
      const j = arm.joints[i]!
      const t = Math.abs(torque[i]! + rubbing[i]!)
      this.braking.offer(j, t / this.#limits[j]!, phase, t)
    }
  }
}

function weighed(rig: Rig, arm: Arm): Weighed[] {
  const joints = arm.joints.map((j) => rig.joints[j]!)
  const bodies = joints.map(({ body }) => body).filter((body): body is Body => body !== null)
  if (bodies.length < joints.length) return []
  const trains = joints.map(({ train }) => train)
  const n = joints.length
  return [
    {
      arm,
      trains,
      dynamics: new Dynamics(new Links(arm, joints, bodies, trains, paddleBody(arm.paddle, arm.tool))),
      q: new Float64Array(n),
      qd: new Float64Array(n),
      qdd: new Float64Array(n),
      torque: new Float64Array(n),
      rubbing: new Float64Array(n),
    },
  ]
}
