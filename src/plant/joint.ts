/**
 * The true motion of one joint on a grid of 1 ms: whatever acts on it (position loop, the drive's own ramp,
 * load and brake, a jam) moves it from one grid point to the next. A change of what acts counts from the next
 * grid point on, as in a drive with a control cycle of 1 ms. Between grid points the state is extrapolated to
 * second order.
 *
 * Invented abilities: 1.5 times the rig's speed limit; its torque limit, with an inertia at which that torque
 * gives twice the rig's acceleration limit; hard stops 2 deg outside the position limits, without rebound.
 * Torque is an estimate: inertia x (acceleration + sag) + friction of 2 % of the torque limit + 3 % at the
 * speed limit (invented).
 *
 * In a mechanism (afloat.ts) all joints step together, and the mechanism has the last word on each step and on the torque:
 * then load, friction and coupling do act on the motion.
 *
 * Not modelled: inertia that changes with the pose, gravity by pose, coupling between joints, load and
 * friction acting on the motion of a powered joint, water (all of these but in a mechanism); elasticity, heat.
 */
import { type Nanos, NS_PER_S } from '../clock.js'
import type { JointLimits } from '../files/rig.js'
import { Demand } from './demand.js'
import { BRAKE_ENGAGES, Load, slow } from './load.js'
import type { CoupledJoint, Mechanism } from './mechanism.js'
import { type LoopSettings, type MotionState, PositionLoop } from './servo.js'

/** ns, distance of the grid points */
export const GRID: Nanos = 1e6
const STEP = GRID / NS_PER_S

/** What the simulated joint can do, as multiples of the rig's limits. */
export const ABILITY = { speed: 1.5, acceleration: 2 } as const
/** rad, how far outside the position limits the hard stops are */
export const STOP_MARGIN = (2 * Math.PI) / 180
const COULOMB = 0.02
const VISCOUS = 0.03

/** What acts on the joint. `ramp` slows it to rest at a given deceleration. */
export type Actuation = 'free' | 'follow' | 'ramp'

export interface JointSettings {
  readonly limits: JointLimits
  readonly servo: LoopSettings
  /** rad, true position at power-on */
  readonly start: number
  /** rad/s2 */
  readonly sag: number
  readonly brakes: boolean
}

export class JointMotion implements CoupledJoint {
  /** Position demand in the encoder's terms, rad. */
  readonly demand = new Demand()
  readonly #m: MotionState
  readonly #loop: PositionLoop
  readonly #load: Load
  readonly #sag: number
  readonly #brakes: boolean
  readonly #lower: number
  readonly #upper: number
  readonly #speedLimit: number
  readonly #torqueLimit: number
  readonly #inertia: number
  readonly #coulomb: number
  readonly #viscous: number
  readonly #mechanism: Mechanism | null
  /** Where an intended step began. */
  readonly #from: MotionState = { position: 0, speed: 0 }
  /** N m that the motor gave in the last step, where a mechanism says so. */
  #borne = 0
  #ceiling: number
  #accelerationLimit: number
  #actuation: Actuation = 'free'
  #deceleration = 0
  #braked: Nanos = 0
  #jammed = false
  #offset = 0
  #grid: Nanos = 0
  /** The loop's reference at the grid point, true angle. */
  #reference: number
  /** rad/s2 over the last grid step */
  #acceleration = 0

  /** @param mechanism that takes this joint along; null: it moves for itself */
  constructor({ limits, servo, start, sag, brakes }: JointSettings, mechanism: Mechanism | null = null) {
    this.#mechanism = mechanism
    this.#m = { position: start, speed: 0 }
    this.#loop = new PositionLoop(servo, STEP)
    this.#load = new Load(sag, ABILITY.acceleration * limits.acceleration, STEP)
    this.#sag = sag
    this.#brakes = brakes
    this.#lower = Math.min(limits.lower - STOP_MARGIN, start)
    this.#upper = Math.max(limits.upper + STOP_MARGIN, start)
    this.#speedLimit = ABILITY.speed * limits.speed
    this.#torqueLimit = limits.torque
    this.#inertia = limits.torque / (ABILITY.acceleration * limits.acceleration)
    this.#coulomb = COULOMB * limits.torque
    this.#viscous = (VISCOUS * limits.torque) / limits.speed
    this.#ceiling = limits.torque
    this.#accelerationLimit = this.#ceiling / this.#inertia
    this.#reference = start
    this.demand.hold(start)
  }

  /** Steps to the last grid point at or before `t`. */
  advance(t: Nanos): void {
    const points = Math.floor((t - this.#grid) / GRID)
    if (points <= 0) return
    if (this.#mechanism !== null) {
      this.#mechanism.advance(t)
      return
    }
    if (this.asleep) this.sleep(this.#grid + points * GRID)
    else for (let i = 0; i < points; i++) this.#advanceOne()
  }

  /** rad, true */
  position(t: Nanos): number {
    this.advance(t)
    const dt = (t - this.#grid) / NS_PER_S
    const { position, speed } = this.#m
    const bend = dt === 0 ? 0 : this.#bend()
    return Math.min(Math.max(position + (speed + (bend * dt) / 2) * dt, this.#lower), this.#upper)
  }

  /** rad, what the drive's encoder stands for: the true position, and its offset when it has jumped */
  measured(t: Nanos): number {
    return this.position(t) + this.#offset
  }

  /** N m that the drive reports */
  torque(t: Nanos): number {
    this.advance(t)
    if (this.#actuation === 'free') return 0
    if (this.#mechanism !== null && !this.#jammed) return this.#borne
    const v = this.#m.speed
    const friction = this.#coulomb * Math.sign(v) + this.#viscous * v
    const torque = this.#inertia * (this.#acceleration + this.#sag) + friction
    return Math.min(Math.max(torque, -this.#ceiling), this.#ceiling)
  }

  /** W that the motor gives to the joint; 0 where the joint gives */
  power(t: Nanos): number {
    return Math.max(0, this.torque(t) * this.#m.speed)
  }

  /** Power off: the brake engages a little later, if there is one. */
  release(t: Nanos): void {
    this.#settle(t)
    if (this.#actuation === 'free') return
    this.#actuation = 'free'
    this.#braked = this.#grid + BRAKE_ENGAGES * NS_PER_S
  }

  /** Position loop on; the demand begins where the encoder stands. */
  follow(t: Nanos): void {
    this.#settle(t)
    this.#actuation = 'follow'
    this.#reference = this.#m.position
    this.demand.hold(this.#m.position + this.#offset)
  }

  /**
   * The drive's own ramp to rest (rad/s2; Infinity: as hard as the torque allows). It is fed forward in full,
   * so that the joint keeps to it without lag.
   */
  ramp(t: Nanos, deceleration: number): void {
    this.#settle(t)
    this.#actuation = 'ramp'
    this.#deceleration = deceleration
  }

  /** ns until a ramp begun at the grid point ends */
  get timeToRest(): Nanos {
    return Math.ceil((Math.abs(this.#m.speed) / this.#effectiveDeceleration()) * NS_PER_S)
  }

  /** The motor holds, moves or slows the joint: it is not left to load and brake. */
  get powered(): boolean {
    return this.#actuation !== 'free'
  }

  /** At rest at the last grid point. */
  get resting(): boolean {
    return this.#m.speed === 0
  }

  /** N m, the drive's torque limit (6072h) */
  limitTorque(t: Nanos, torque: number): void {
    this.#settle(t)
    this.#ceiling = Math.min(torque, this.#torqueLimit)
    this.#accelerationLimit = this.#ceiling / this.#inertia
  }

  /** Blocks the joint where it is, at once; the motor pushes on. */
  jam(t: Nanos, on: boolean): void {
    this.#settle(t)
    this.#jammed = on
  }

  /**
   * The encoder, which closes the loop, jumps to `angle` (rad) beside the truth: the drive then moves the
   * joint.
   */
  shiftEncoder(t: Nanos, angle: number): void {
    this.#settle(t)
    this.#reference += this.#offset - angle
    this.#offset = angle
  }

  get motion(): Readonly<MotionState> {
    return this.#m
  }

  get asleep(): boolean {
    return this.#actuation === 'free' && this.#brakes && this.#grid >= this.#braked && this.#m.speed === 0
  }

  sleep(t: Nanos): void {
    this.#acceleration = 0
    this.#grid = t
  }

  get ceiling(): number {
    return this.#actuation === 'free' || this.#jammed ? Number.POSITIVE_INFINITY : this.#ceiling
  }

  intend(): number {
    this.#from.position = this.#m.position
    this.#from.speed = this.#m.speed
    this.#move()
    return (this.#m.speed - this.#from.speed) / STEP
  }

  proceed(acceleration: number, torque: number): void {
    const { position, speed } = this.#from
    const m = this.#m
    // A step that was not changed stays as it was taken, to the last digit.
    if (acceleration !== (m.speed - speed) / STEP) {
      m.speed = speed + acceleration * STEP
      m.position = position + ((speed + m.speed) / 2) * STEP
    }
    this.#borne = torque
    if (!this.#jammed) this.#conclude(speed)
  }

  /** rad/s2 at the grid point, for what comes between it and the next. */
  #bend(): number {
    const m = this.#m
    if (this.#actuation === 'free') return m.speed === 0 ? 0 : this.#acceleration
    if (this.#jammed) return 0
    if (this.#mechanism !== null) return this.#acceleration
    if (this.#actuation === 'ramp') return -Math.sign(m.speed) * this.#effectiveDeceleration()
    const next = this.demand.at(this.#grid + GRID) - this.#offset
    const asked = this.#loop.acceleration(m, this.#reference, (next - this.#reference) / STEP)
    if (Math.abs(m.speed) >= this.#speedLimit && asked * m.speed > 0) return 0
    return clamp(asked, -this.#accelerationLimit, this.#accelerationLimit)
  }

  /** Steps to the first grid point at or after `t`, from which a change counts. */
  #settle(t: Nanos): void {
    this.advance(Math.ceil(t / GRID) * GRID)
  }

  #effectiveDeceleration(): number {
    return Math.min(this.#deceleration, this.#accelerationLimit)
  }

  #advanceOne(): void {
    const v0 = this.#m.speed
    this.#move()
    if (!this.#jammed) this.#conclude(v0)
  }

  /** One grid step of whatever acts on the joint, but for the hard stops. */
  #move(): void {
    const m = this.#m
    const v0 = m.speed
    this.#grid += GRID
    if (this.#actuation === 'follow') {
      const r0 = this.#reference
      const r1 = this.demand.at(this.#grid) - this.#offset
      this.#reference = r1
      if (this.#jammed) {
        m.speed = 0
        this.#acceleration = this.#loop.acceleration(m, r1, (r1 - r0) / STEP)
        return
      }
      const x0 = m.position
      this.#loop.step(m, r0, r1)
      const most = this.#accelerationLimit * STEP
      const v1 = clamp(clamp(m.speed, v0 - most, v0 + most), -this.#speedLimit, this.#speedLimit)
      if (v1 !== m.speed) {
        m.speed = v1
        m.position = x0 + ((v0 + v1) / 2) * STEP
      }
    } else if (this.#jammed) {
      m.speed = 0
      this.#acceleration = 0
    } else if (this.#actuation === 'ramp') slow(m, this.#effectiveDeceleration(), STEP)
    else if (this.#brakes && this.#grid > this.#braked) this.#load.brake(m)
    else this.#load.fall(m)
  }

  /** The hard stops, and what the step came to. @param v0 rad/s at its beginning */
  #conclude(v0: number): void {
    const m = this.#m
    if (m.position < this.#lower) {
      m.position = this.#lower
      m.speed = Math.max(m.speed, 0)
    } else if (m.position > this.#upper) {
      m.position = this.#upper
      m.speed = Math.min(m.speed, 0)
    }
    this.#acceleration = (m.speed - v0) / STEP
  }
}

function clamp(value: number, least: number, most: number): number {
  return Math.min(Math.max(value, least), most)
}
