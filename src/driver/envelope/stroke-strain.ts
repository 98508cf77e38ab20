/**
 * What a steady stroke of one arm asks of its joints, at any speed: the path of the joints over the phase is worked out once, and
 * speeds and accelerations follow from the phase's rate r and its change along the phase:
 *
 *     q' = dq/dphase, q'' = d2q/dphase2;  qd = q' r,  qdd = q'' r^2 + q' r dr/dphase
 */
import type { Rig } from '../../files/rig.js'
import { Dynamics } from '../../motion/dynamics.js'
import type { Strain, Way } from '../../motion/envelope.js'
import { friction } from '../../motion/friction.js'
import { Links } from '../../motion/links.js'
import { paddleBody } from '../../motion/paddle-body.js'
import { torqueLimit } from '../../motion/torque-limit.js'
import { jointsOf } from '../posture.js'
import type { StrokePace } from './stroke-pace.js'
import { type ArmStroke, STEPS } from './stroke-poses.js'

/**
 * Control periods between the setpoint that the last gate lets out and the newest feedback that it holds it against: it acts at the
 * SYNC after it, the feedback is of the SYNC before. What a drive lags comes on top.
 */
const PERIODS_BEHIND = 2

const SPEED = 0
const ACCELERATION = 1
const WINDOW = 2
const TORQUE = 3
const LASTING = 4
const DRIVING = 0
const BRAKING = 1
const FRICTION = 2
const KINDS = [
  { item: 'joint speed', unit: 'rad/s' },
  { item: 'joint acceleration', unit: 'rad/s2' },
  { item: 'following window', unit: 'rad' },
  { item: 'torque', unit: 'N m' },
  { item: 'lasting torque', unit: 'N m' },
] as const

/** What acts on a blade from outside: on dry land nothing, afloat the water (blade-in-water.ts). */
interface BladeLoad {
  /** @param step of the stroke: its place is phase step / STEPS @param out N, and N m about the blade's centre, craft frame */
  on(step: number, pace: StrokePace, out: Float64Array): void
}

/** W, means over a stroke of what an arm's drives give and take. */
export interface DrivePower {
  /** Of joints while their drives push */
  readonly driving: number
  /** Of joints while their drives hold back: without sign */
  readonly braking: number
  /** Of what is given, the part that bearings and gears take */
  readonly friction: number
}

export class StrokeStrain {
  /** 1/s, strokes at the speed of the last `at` */
  cadence = 0
  readonly #joints
  readonly #period: number
  readonly #pace: StrokePace
  readonly #direction: 1 | -1
  readonly #poses: Float64Array
  readonly #slopes: Float64Array
  readonly #bends: Float64Array
  /** Limits by kind and joint: Infinity where nobody states one. */
  readonly #limits: readonly Float64Array[]
  readonly #dynamics: Dynamics | null
  readonly #trains
  readonly #q: Float64Array
  readonly #qd: Float64Array
  readonly #qdd: Float64Array
  readonly #torque: Float64Array
  readonly #rubbing: Float64Array
  readonly #load = new Float64Array(6)
  /** s N2 m2, by joint */
  readonly #squares: Float64Array
  /** J over a stroke */
  readonly #powers = new Float64Array(3)
  /** Worst of each kind: value / limit, the value, whose, and where. */
  readonly #shares = new Float64Array(KINDS.length)
  readonly #values = new Float64Array(KINDS.length)
  readonly #whose = new Int32Array(KINDS.length)
  readonly #where = new Int32Array(KINDS.length)

  /** @param poses as `strokePoses` gives them */
  constructor(rig: Rig, { arm }: Pick<ArmStroke, 'arm'>, poses: Float64Array, pace: StrokePace, way: Way) {
    const joints = jointsOf(rig, arm)
    const n = joints.length
    this.#joints = joints
    this.#period = rig.control.period
    this.#pace = pace
    this.#direction = way === 'ahead' ? 1 : -1
    this.#poses = poses
    this.#slopes = new Float64Array(STEPS * n)
    this.#bends = new Float64Array(STEPS * n)
    for (let i = 0; i < STEPS; i++) {
      const [before, after] = [(i + STEPS - 1) % STEPS, (i + 1) % STEPS]
      for (let j = 0; j < n; j++) {
        const [a, b, c] = [poses[before * n + j]!, poses[i * n + j]!, poses[after * n + j]!]
        this.#slopes[i * n + j] = ((c - a) * STEPS) / 2
        this.#bends[i * n + j] = (c - 2 * b + a) * STEPS * STEPS
      }
    }
    const { motion, link } = rig
    this.#limits = [
      Float64Array.from(joints, (j) => motion.speedCap * j.limits.speed),
      Float64Array.from(joints, (j) => j.limits.acceleration),
      Float64Array.from(joints, () => link.window),
      Float64Array.from(joints, (j) => torqueLimit(rig, j)),
      Float64Array.from(joints, (j) => j.rating?.continuous ?? Number.POSITIVE_INFINITY),
    ]
    this.#trains = joints.map((j) => j.train)
    const bodies = joints.flatMap((j) => j.body ?? [])
    this.#dynamics =
      bodies.length === n
        ? new Dynamics(new Links(arm, joints, bodies, this.#trains, paddleBody(arm.paddle, arm.tool)))
        : null
    this.#q = new Float64Array(n)
    this.#qd = new Float64Array(n)
    this.#qdd = new Float64Array(n)
    this.#torque = new Float64Array(n)
    this.#rubbing = new Float64Array(n)
    this.#squares = new Float64Array(n)
  }

  /** m/s of the blade against the craft, as `StrokePace.run` takes it. @param speed without sign */
  signed(speed: number): number {
    return this.#direction * speed
  }

  /**
   * A whole stroke; what it asks for most is kept for `strains`.
   * @param speed m/s of the blade against the craft on a stroke of full length, without sign, above zero
   * @param load null: none, on dry land
   * @param lasts false: it goes on for a few strokes at most, over before a motor warms
   * @returns the greatest share of any limit
   */
  at(speed: number, load: BladeLoad | null, lasts = true): number {
    const n = this.#joints.length
    const pace = this.#pace
    const dynamics = this.#dynamics
    const q = this.#q
    const qd = this.#qd
    const qdd = this.#qdd
    pace.run(this.signed(speed))
    this.#shares.fill(0)
    this.#squares.fill(0)
    this.#powers.fill(0)
    for (let i = 0; i < STEPS; i++) {
      const rate = pace.rates[i]!
      const rise = pace.rises[i]!
      for (let j = 0; j < n; j++) {
        const slope = this.#slopes[i * n + j]!
        q[j] = this.#poses[i * n + j]!
        qd[j] = slope * rate
        qdd[j] = this.#bends[i * n + j]! * rate * rate + slope * rate * rise
        this.#take(SPEED, j, i, qd[j]!)
        this.#take(ACCELERATION, j, i, qdd[j]!)
        this.#take(WINDOW, j, i, PERIODS_BEHIND * this.#period * qd[j]!)
      }
      if (dynamics === null) continue
      if (load !== null) load.on(i, pace, this.#load)
      dynamics.inverse(q, qd, qdd, load === null ? null : this.#load, this.#torque)
      friction(this.#trains, qd, this.#rubbing)
      const time = pace.lasts[i]!
      for (let j = 0; j < n; j++) {
        const torque = this.#torque[j]! + this.#rubbing[j]!
        this.#squares[j]! += torque * torque * time
        this.#take(TORQUE, j, i, torque)
        const power = torque * qd[j]!
        this.#powers[power > 0 ? DRIVING : BRAKING]! += Math.abs(power) * time
        this.#powers[FRICTION]! += this.#rubbing[j]! * qd[j]! * time
      }
    }
    const { period } = pace
    // What heats a winding: motor-heat.ts.
    if (lasts) for (let j = 0; j < n; j++) this.#take(LASTING, j, -1, Math.sqrt(this.#squares[j]! / period))
    this.cadence = 1 / period
    let most = 0
    for (let k = 0; k < KINDS.length; k++) most = Math.max(most, this.#shares[k]!)
    return most
  }

  /** Of the last `at`; zeros where a body is not stated. */
  get power(): DrivePower {
    const [driving, braking, friction] = this.#powers
    const mean = this.cadence
    return { driving: mean * driving!, braking: mean * braking!, friction: mean * friction! }
  }

  /** Of the last `at`. */
  get strains(): Strain[] {
    return KINDS.flatMap(({ item, unit }, k): Strain[] => {
      const whose = this.#whose[k]!
      const limit = this.#limits[k]![whose]!
      if (this.#shares[k]! === 0) return []
      const where = this.#where[k]!
      const phase = where < 0 ? null : where / STEPS
      const { name: joint } = this.#joints[whose]!
      return [{ item, joint, value: this.#values[k]!, limit, share: this.#shares[k]!, unit, phase }]
    })
  }

  #take(kind: number, joint: number, step: number, value: number): void {
    const size = Math.abs(value)
    const share = size / this.#limits[kind]![joint]!
    if (share <= this.#shares[kind]!) return
    this.#shares[kind] = share
    this.#values[kind] = size
    this.#whose[kind] = joint
    this.#where[kind] = step
  }
}
