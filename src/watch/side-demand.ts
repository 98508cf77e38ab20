/**
 * What the command asks of one side, and what a driver that keeps the rig's acceleration and jerk can have made of it: the side's
 * speed, its direction, the length of its stroke, and for how long it has been so. Whoever drives: the reference driver's
 * setpoints have no part in it.
 *
 * A side that is asked for nothing for its dwell lifts its blade and takes it to its park place, and a command that comes meanwhile may
 * wait till then. Another driver may heed it at once: what is asked counts as steady when both would have come to it.
 */
import type { Rig, Side } from '../files/rig.js'
import { parkTimes } from '../motion/blade.js'
import { HURRY, SHORTEST } from '../motion/side.js'
import { portSpeed, starboardSpeed } from '../motion/side-speeds.js'
import { Slew } from '../motion/slew.js'

/** m/s, the follower ends at the wanted speed but for rounding. */
const SAME_SPEED = 1e-9

export class SideDemand {
  /** m/s of the blade in the middle of the drive, slip included; astern negative */
  wanted = 0
  /** 0..1, length of the stroke that is asked for, as a share of the full one */
  share = 1
  /** s for which wanted and possible direction have agreed */
  agreed = 0
  /** s for which the speed must have been the wanted one, whether the driver parks its blade first or not; zero speed too */
  steady = 0
  /** What is asked for now was first asked of a blade that had had the time to be parked. */
  fromPark = false
  /** s for which a side that is asked for nothing has had to park its blade: its dwell is over */
  parking = 0
  readonly #rig: Pick<Rig, 'craft' | 'driver' | 'stroke' | 'control'>
  readonly #port: boolean
  readonly #follower: Slew
  /** The speed that a full stroke would have, at the most: a short one's phase may run as fast as the faster side's, and takes as long to stop. */
  readonly #whole: Slew
  #fastest = 0
  /** s for which it has stood */
  #rested = 0
  /** The same of a side that parks its blade first. */
  readonly #late: Slew
  /** s that parking takes at the most */
  readonly #parkTime: number
  #parked = true
  /** s, of the dwell; and of the parking that a late driver still has before it */
  #still = 0
  #toPark = 0

  constructor(rig: Pick<Rig, 'arms' | 'craft' | 'driver' | 'stroke' | 'control'>, side: Side) {
    this.#rig = rig
    this.#port = side === 'port'
    this.#follower = new Slew(rig.driver.acceleration, rig.driver.jerk, rig.control.period)
    this.#whole = new Slew(rig.driver.acceleration, rig.driver.jerk, rig.control.period)
    this.#late = new Slew(rig.driver.acceleration, rig.driver.jerk, rig.control.period)
    const paddles = rig.arms.map((arm) => arm.paddle)
    const { lift, carry } = parkTimes(rig.stroke, paddles)
    this.#parkTime = lift + carry
  }

  /** m/s that the side can have come to */
  get possible(): number {
    return this.#follower.value
  }

  /** m/s that the side must have come to, whether the driver parks its blade first or not */
  get sure(): number {
    const [a, b] = [this.#follower.value, this.#late.value]
    return a * b <= 0 ? 0 : Math.abs(a) < Math.abs(b) ? a : b
  }

  /** 0..1, the length of the stroke as the rig's stroke is shortened: never below its shortest */
  get reach(): number {
    return Math.max(SHORTEST, this.share)
  }

  /** At rest: a stage begins in which the driver starts from its park pose, or has nothing to say. */
  rest(): void {
    this.#follower.reset(0)
    this.#whole.reset(0)
    this.#late.reset(0)
    this.#parked = true
    this.#toPark = 0
    this.#still = 0
    this.wanted = 0
    this.fromPark = false
    this.parking = 0
    this.#rested = 0
    this.agreed = 0
    this.steady = 0
  }

  /** @param surge m/s @param yaw rad/s */
  command(surge: number, yaw: number): void {
    const { craft, driver, stroke } = this.#rig
    const { wanted, share } = this
    const port = portSpeed(surge, yaw, craft.track)
    const starboard = starboardSpeed(surge, yaw, craft.track)
    const speed = this.#port ? port : starboard
    this.wanted = speed * (1 + driver.slip)
    // With coupled sides the faster one sets the cadence and the other shortens its stroke.
    const fastest = Math.max(Math.abs(port), Math.abs(starboard))
    this.#fastest = HURRY * fastest * (1 + driver.slip)
    this.share = stroke.sides === 'free' || fastest === 0 ? 1 : Math.abs(speed) / fastest
    if (this.wanted === 0 || Math.sign(this.wanted) === -Math.sign(wanted)) this.fromPark = false
    else if (wanted === 0) this.fromPark = this.#parked && this.#toPark <= 0
    // A slow ramp is followed without delay, and is not steady all the same.
    if (this.wanted !== wanted || this.share !== share) this.steady = 0
    // Whoever looks before the next control period is not to hold what was asked till now against what is asked from now on.
    if (!this.#agrees) this.agreed = 0
    if (this.wanted !== 0) {
      this.#rested = 0
      this.parking = 0
    }
  }

  get #agrees(): boolean {
    return this.wanted !== 0 && Math.sign(this.possible) === Math.sign(this.wanted)
  }

  /** One control period of what the command may have come to. */
  sync(): void {
    this.#follower.step(this.wanted)
    const free = this.#rig.stroke.sides === 'free'
    this.#whole.step(free || this.wanted === 0 ? this.wanted : this.#fastest)
    const { period } = this.#rig.control
    this.agreed = this.#agrees ? this.agreed + period : 0
    this.#stepLate()
    const off = Math.max(Math.abs(this.possible - this.wanted), Math.abs(this.#late.value - this.wanted))
    this.steady = off < SAME_SPEED ? this.steady + period : 0
    const whole = this.#whole
    const rests = this.wanted === 0 && whole.value === 0 && whole.slope === 0
    this.#rested = rests ? this.#rested + period : 0
    this.parking = Math.max(0, this.#rested - this.#rig.stroke.dwell)
  }

  #stepLate(): void {
    const { control, stroke } = this.#rig
    const late = this.#late
    if (this.#toPark > 0) {
      this.#toPark -= control.period
      return
    }
    late.step(this.wanted)
    const still = this.wanted === 0 && late.value === 0 && late.slope === 0
    this.#still = still ? this.#still + control.period : 0
    if (!still) this.#parked = false
    if (this.#parked || this.#still < stroke.dwell) return
    this.#parked = true
    this.#toPark = this.#parkTime
  }
}
