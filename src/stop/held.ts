/**
 * A held stop, category 2 after IEC 60204-1, 9.2.2: a controlled stop with the torque kept on. It is for operational
 * stops that a watch asks for and is never an emergency stop. A drive's own quick stop must end without torque (605Ah is
 * 1-4), so it cannot hold: the joints are slowed by setpoints, all in the same time and inside their acceleration limits,
 * and are then sent the same setpoint on and on.
 *
 * That rests on drives that follow and on feedback that comes. Whatever breaks it ends in an emergency stop.
 */
import type { Nanos } from '../clock.js'
import type { Rig } from '../files/rig.js'
import type { JointLink } from '../link/link.js'
import { Still } from '../motion/still.js'

/** Why the arms cannot be held: it goes on after "the held stop was given up: ". */
export interface GivenUp {
  readonly place: string
  readonly says: string
}

/** Of each joint's acceleration limit: the gate must not find the slowing too hard by its rounding. */
const SHARE = 0.8
/** Of the mean deceleration: what v0 (1 - 3u^2 + 2u^3) takes at most, at half time. */
const PEAK = 1.5

export class HeldStop {
  readonly #rig: Pick<Rig, 'joints' | 'control' | 'stop'>
  readonly #link: JointLink
  readonly #still: readonly Still[]
  /** rad and rad/s where the slowing begins */
  readonly #from: Float64Array
  readonly #speed: Float64Array
  #on = false
  #begun: Nanos = 0
  /** Setpoints given since the stop. */
  #steps = 0
  /** s that the slowing takes */
  #duration = 0

  constructor(rig: Pick<Rig, 'joints' | 'control' | 'stop'>, link: JointLink) {
    this.#rig = rig
    this.#link = link
    this.#still = rig.joints.map(() => new Still(rig.stop.still.speed, rig.stop.still.hold))
    this.#from = new Float64Array(rig.joints.length)
    this.#speed = new Float64Array(rig.joints.length)
  }

  /** A held stop is in force: slowing or holding. */
  get on(): boolean {
    return this.#on
  }

  /** From the next `step` on. Nothing is sent here: a cycle of setpoints may be half sent. */
  begin(t: Nanos): void {
    this.#on = true
    this.#begun = t
    this.#steps = 0
    for (const still of this.#still) still.restart()
  }

  /** A harder stop or a new start takes over. */
  end(): void {
    this.#on = false
  }

  /**
   * Setpoints of the next period, once a tick.
   * @param out rad, joints in rig order; not to be used when the stop is given up
   * @returns null, or why the arms can no longer be held
   */
  step(t: Nanos, out: Float64Array): GivenUp | null {
    if (this.#steps === 0) {
      const outside = this.#plan()
      if (outside) return outside
    }
    const loose = this.#link.drives.find((d) => !d.follows)
    if (loose) return { place: loose.joint.name, says: 'a drive no longer follows its setpoint' }
    const elapsed = ++this.#steps * this.#rig.control.period
    const u = elapsed < this.#duration ? elapsed / this.#duration : 1
    const way = this.#duration * (u - u ** 3 + u ** 4 / 2)
    for (let j = 0; j < out.length; j++) out[j] = this.#from[j]! + this.#speed[j]! * way
    for (const { drive, still } of this.#joints()) still.see(drive.position, drive.feedbackAt)
    const late = this.#joints().find(({ still }) => still.since === null)
    if (!late || t - this.#begun < this.#rig.stop.timeout * 1e9) return null
    return { place: late.drive.joint.name, says: `a joint was not still within ${this.#rig.stop.timeout} s` }
  }

  /** Every joint has come to rest. */
  get still(): boolean {
    return this.#still.every((s) => s.since !== null)
  }

  #joints() {
    return this.#link.drives.map((drive, j) => ({ drive, still: this.#still[j]! }))
  }

  /** From the setpoints last sent and their speed to rest. @returns a joint that would come to rest outside its limits */
  #plan(): GivenUp | null {
    this.#link.held(this.#from)
    this.#link.speeds(this.#speed)
    this.#duration = 0
    for (const { index, limits } of this.#rig.joints) {
      const needed = (PEAK * Math.abs(this.#speed[index]!)) / (SHARE * limits.acceleration)
      this.#duration = Math.max(this.#duration, needed)
    }
    const outside = this.#rig.joints.find(({ index, limits }) => {
      const end = this.#from[index]! + (this.#speed[index]! * this.#duration) / 2
      return end < limits.lower || end > limits.upper
    })
    return outside
      ? { place: outside.name, says: 'a joint would come to rest outside its position limits' }
      : null
  }
}
