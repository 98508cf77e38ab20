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
import { Looseness } from './looseness.js'
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

/** s, how long a joint springs off for. Invented. */
const KICK_LASTS = 0.1
/** Part of its torque that is left to a motor however much rubs. */
const LEAST_LEFT = 0.02

/** What acts on the joint. `ramp` slows it to rest at a given deceleration; `run on` lets it go on at its speed. */
export type Actuation = 'free' | 'follow' | 'ramp' | 'run on'

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
  readonly #hasBrakes: boolean
  #brakes: boolean
  readonly #lower: number
  readonly #upper: number
  readonly #fastest: number
  #speedLimit: number
  readonly #torqueLimit: number
  readonly #inertia: number
  readonly #coulomb: number
  readonly #viscous: number
  readonly #mechanism: Mechanism | null
  /** Where an intended step began. */
  readonly #from: MotionState = { position: 0, speed: 0 }
  /** N m that the motor gave in the last step, where a mechanism says so. */
  #borne = 0
  /** N m that 6072h leaves of the joint's own limit. */
  #allowed: number
  /** Part of that which the motor can give, and N m of it that go into rubbing. */
  #strength = 1
  #rubbing = 0
  #ceiling = 0
  #accelerationLimit = 0
  #actuation: Actuation = 'free'
  #deceleration = 0
  #braked: Nanos = 0
  #jammed = false
  /** What the encoder stands for: gain x angle + offset, rad. */
  #gain = 1
  #offset = 0
  #scale = 1
  #shift = 0
  /** rad, about which the joint is mirrored; NaN: it is not */
  #pivot = Number.NaN
  #loose: Looseness | null = null
  /** rad/s at which something moves the joint while it has no power, until a time (ns); and the angle (rad) that it springs by. */
  #push = 0
  #pushed: Nanos = 0
  #kick = 0
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
    this.#hasBrakes = brakes
    this.#brakes = brakes
    this.#lower = Math.min(limits.lower - STOP_MARGIN, start)
    this.#upper = Math.max(limits.upper + STOP_MARGIN, start)
    this.#fastest = ABILITY.speed * limits.speed
    this.#speedLimit = this.#fastest
    this.#torqueLimit = limits.torque
    this.#inertia = limits.torque / (ABILITY.acceleration * limits.acceleration)
    this.#coulomb = COULOMB * limits.torque
    this.#viscous = (VISCOUS * limits.torque) / limits.speed
    this.#allowed = limits.torque
    this.#limit()
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
    const motor = this.#motor(t)
    return this.#loose === null ? motor : this.#loose.position(motor, t)
  }

  /** rad, what the drive's encoder stands for: the true position, but for what is wrong with it */
  measured(t: Nanos): number {
    const motor = this.#motor(t)
    const seen = this.#loose === null ? motor : this.#loose.seen(motor, t)
    return this.#gain * seen + this.#offset
  }

  /** rad, where the motor has the joint */
  #motor(t: Nanos): number {
    this.advance(t)
    const dt = (t - this.#grid) / NS_PER_S
    const { position, speed } = this.#m
    const bend = dt === 0 ? 0 : this.#bend()
    return Math.min(Math.max(position + (speed + (bend * dt) / 2) * dt, this.#lower), this.#upper)
  }

  /** N m that the drive reports */
  torque(t: Nanos): number {
    this.advance(t)
    if (this.#actuation === 'free') return 0
    const v = this.#m.speed
    const rubbing = this.#rubbing === 0 ? 0 : this.#rubbing * Math.sign(v)
    const turned = Math.sign(this.#gain)
    if (this.#mechanism !== null && !this.#jammed) return turned * (this.#borne + rubbing)
    const friction = this.#coulomb * Math.sign(v) + this.#viscous * v + rubbing
    const torque = this.#inertia * (this.#acceleration + this.#sag) + friction
    return turned * Math.min(Math.max(torque, -this.#ceiling), this.#ceiling)
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
    if (this.#kick !== 0) this.#moveFor(this.#kick / KICK_LASTS, this.#grid + KICK_LASTS * NS_PER_S)
  }

  /** Position loop on; the demand begins where the encoder stands. */
  follow(t: Nanos): void {
    this.#settle(t)
    this.#actuation = 'follow'
    this.#reference = this.#m.position
    this.demand.hold(this.#gain * this.#m.position + this.#offset)
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

  /** Nothing slows the joint yet: it goes on at the speed that it has. */
  runOn(t: Nanos): void {
    this.#settle(t)
    this.#actuation = 'run on'
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
    this.#allowed = Math.min(torque, this.#torqueLimit)
    this.#limit()
  }

  /** The motor gives this part of its torque, and turns at most at this part of its greatest speed. */
  weaken(t: Nanos, torque: number, speed: number): void {
    this.#settle(t)
    this.#strength = torque
    this.#speedLimit = speed * this.#fastest
    this.#limit()
  }

  /** This share (0..1) of the joint's torque limit goes into rubbing. */
  rub(t: Nanos, share: number): void {
    this.#settle(t)
    this.#rubbing = share * this.#torqueLimit
    this.#limit()
  }

  /** Its brake holds it, if there is one; or it does not. */
  brake(t: Nanos, holds: boolean): void {
    this.#settle(t)
    this.#brakes = holds && this.#hasBrakes
  }

  /** Something moves the joint (rad/s) for good whenever it has no power; 0: no more. */
  push(t: Nanos, speed: number): void {
    this.#settle(t)
    this.#moveFor(speed, speed === 0 ? this.#grid : Number.POSITIVE_INFINITY)
  }

  /** From now on the joint springs by this angle (rad) each time that its power is taken away. */
  spring(angle: number): void {
    this.#kick = angle
  }

  /** What comes between the motor and its joint. */
  loosen(t: Nanos, how: (loose: Looseness, motor: number) => void): void {
    this.#settle(t)
    const { position } = this.#m
    const loose = this.#loose ?? new Looseness(position)
    how(loose, position)
    loose.step(this.#m, this.#grid)
    this.#loose = loose.tight ? null : loose
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
    this.#shift = angle
    this.#encode()
  }

  /** The encoder, which closes the loop, reads so many times the angle, about the joint's zero. */
  scaleEncoder(t: Nanos, scale: number): void {
    this.#settle(t)
    this.#scale = scale
    this.#encode()
  }

  /** From where it is, the joint turns the other way than its drive believes; or (false) as it believes again. */
  mirror(t: Nanos, on: boolean): void {
    this.#settle(t)
    this.#pivot = on ? this.#m.position : Number.NaN
    this.#encode()
  }

  /** What the drive asked for and has not got yet is the same to it, and another place in truth. */
  #encode(): void {
    const asked = this.#gain * this.#reference + this.#offset
    const mirrored = !Number.isNaN(this.#pivot)
    this.#gain = mirrored ? -this.#scale : this.#scale
    this.#offset = this.#shift + (mirrored ? 2 * this.#scale * this.#pivot : 0)
    this.#reference = (asked - this.#offset) / this.#gain
  }

  get motion(): Readonly<MotionState> {
    return this.#loose === null ? this.#m : this.#loose.joint
  }

  get asleep(): boolean {
    if (this.#grid < this.#pushed) return false
    return this.#actuation === 'free' && this.#brakes && this.#grid >= this.#braked && this.#m.speed === 0
  }

  sleep(t: Nanos): void {
    this.#acceleration = 0
    this.#grid = t
  }

  get ceiling(): number {
    if (this.#actuation === 'free' || this.#jammed) return Number.POSITIVE_INFINITY
    return this.#left()
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
    this.#loose?.step(m, this.#grid)
  }

  /** rad/s2 at the grid point, for what comes between it and the next. */
  #bend(): number {
    const m = this.#m
    if (this.#actuation === 'free') return m.speed === 0 ? 0 : this.#acceleration
    if (this.#jammed || this.#actuation === 'run on') return 0
    if (this.#mechanism !== null) return this.#acceleration
    if (this.#actuation === 'ramp') return -Math.sign(m.speed) * this.#effectiveDeceleration()
    const next = (this.demand.at(this.#grid + GRID) - this.#offset) / this.#gain
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
    this.#loose?.step(this.#m, this.#grid)
  }

  /** N m that are left of the motor's torque for what it moves. */
  #left(): number {
    return this.#rubbing === 0
      ? this.#ceiling
      : Math.max(this.#ceiling - this.#rubbing, LEAST_LEFT * this.#ceiling)
  }

  #limit(): void {
    this.#ceiling = this.#strength * this.#allowed
    this.#accelerationLimit = this.#left() / this.#inertia
  }

  #moveFor(speed: number, until: Nanos): void {
    this.#push = speed
    this.#pushed = until
    if (this.#actuation === 'free' && until <= this.#grid) this.#m.speed = 0
  }

  /** One grid step of whatever acts on the joint, but for the hard stops. */
  #move(): void {
    const m = this.#m
    const v0 = m.speed
    this.#grid += GRID
    if (this.#actuation === 'follow') {
      const r0 = this.#reference
      const r1 = (this.demand.at(this.#grid) - this.#offset) / this.#gain
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
    else if (this.#actuation === 'run on') m.position += v0 * STEP
    else if (this.#grid <= this.#pushed) {
      m.position += this.#push * STEP
      m.speed = this.#grid + GRID <= this.#pushed ? this.#push : 0
    } else if (this.#brakes && this.#grid > this.#braked) this.#load.brake(m)
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
