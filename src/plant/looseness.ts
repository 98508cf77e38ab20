/**
 * What lies between a motor and its joint when the joint is not tight: a coupling that slips, a gear with play, and what makes the joint
 * tremble whatever the motor does.
 *
 * Not modelled: what a joint in its play does between the flanks (it stays where it is), the shock when a flank is met, and
 * what trembling asks of the motor.
 */
import { type Nanos, NS_PER_S } from '../clock.js'
import type { MotionState } from './servo.js'

export class Looseness {
  /** rad that the joint has lost against its motor */
  #lost = 0
  #slip = 0
  #play = 0
  /** rad, the middle of the play; it follows the motor from flank to flank */
  #middle = 0
  #tremble = 0
  #frequency = 0
  #motor: number
  readonly #joint: MotionState = { position: 0, speed: 0 }

  /** @param motor rad, where motor and joint stand now */
  constructor(motor: number) {
    this.#motor = motor
    this.#middle = motor
  }

  /** The joint can be let go of: it is tight, and where its motor is. */
  get tight(): boolean {
    return this.#lost === 0 && this.#slip === 0 && this.#play === 0 && this.#tremble === 0
  }

  /** From now on this share of the motor's way is lost. What was lost stays lost. */
  slip(share: number): void {
    this.#slip = share
  }

  /** rad from flank to flank; the motor stands in the middle of it now. */
  play(width: number, motor: number): void {
    this.#play = width
    this.#middle = motor
  }

  /** @param amplitude rad @param frequency Hz */
  tremble(amplitude: number, frequency: number): void {
    this.#tremble = amplitude
    this.#frequency = frequency
  }

  /** The motor has come to another place. */
  step({ position, speed }: Readonly<MotionState>, t: Nanos): void {
    this.#lost += this.#slip * (position - this.#motor)
    this.#middle = this.#within(position)
    this.#motor = position
    const joint = this.position(position, t)
    this.#joint.speed = speed
    this.#joint.position = joint
  }

  /** Of the joint, at the last step. */
  get joint(): Readonly<MotionState> {
    return this.#joint
  }

  /** rad, where the joint is while its motor is at `motor` */
  position(motor: number, t: Nanos): number {
    const lost = this.#lost + this.#slip * (motor - this.#motor)
    return this.#within(motor) - lost + this.#shake(t)
  }

  /** rad, what the encoder sees: a slip lies behind it, play before it. */
  seen(motor: number, t: Nanos): number {
    return this.#within(motor) + this.#shake(t)
  }

  #within(motor: number): number {
    if (this.#play === 0) return motor
    const half = this.#play / 2
    return Math.min(Math.max(this.#middle, motor - half), motor + half)
  }

  #shake(t: Nanos): number {
    if (this.#tremble === 0) return 0
    return this.#tremble * Math.sin((2 * Math.PI * this.#frequency * t) / NS_PER_S)
  }
}
