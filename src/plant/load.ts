/**
 * A joint without power: brakes hold it, or it falls towards its lower stop.
 *
 * Not modelled: the pose (every joint falls with the rig's `sag`, always downwards), static friction, the
 * time that a brake needs to release, its wear and its slipping.
 */
import type { MotionState } from './servo.js'

/**
 * s from power off until the brake bites; light holding brakes take 10 to 50 ms (common practice, no source).
 */
export const BRAKE_ENGAGES = 0.03

/** 1/s, viscous damping of a falling joint: it ends at sag / 2. Invented. */
export const FALL_DAMPING = 2

export class Load {
  readonly #step: number
  readonly #decay: number
  readonly #fallSpeed: number
  readonly #braking: number

  /**
   * @param sag rad/s2 at the beginning of a fall
   * @param braking rad/s2, how hard the engaged brake slows a moving joint
   * @param step s, distance of the grid points
   */
  constructor(sag: number, braking: number, step: number) {
    this.#step = step
    this.#decay = Math.exp(-FALL_DAMPING * step)
    this.#fallSpeed = -sag / FALL_DAMPING
    this.#braking = braking
  }

  /** One grid step of falling or coasting, exact: v' = -sag - c v. */
  fall(m: MotionState): void {
    const over = m.speed - this.#fallSpeed
    m.position += this.#fallSpeed * this.#step + (over * (1 - this.#decay)) / FALL_DAMPING
    m.speed = this.#fallSpeed + over * this.#decay
  }

  /** One grid step with the brake engaged. */
  brake(m: MotionState): void {
    slow(m, this.#braking, this.#step)
  }
}

/**
 * One step (s) of constant deceleration (rad/s2) that ends at rest, exact also when rest comes inside the step: v^2 / 2a farther.
 */
export function slow(m: MotionState, deceleration: number, step: number): void {
  const v = m.speed
  if (v === 0) return
  const loss = deceleration * step
  if (Math.abs(v) <= loss) {
    m.position += (v * Math.abs(v)) / (2 * deceleration)
    m.speed = 0
  } else {
    m.speed = v - Math.sign(v) * loss
    m.position += ((v + m.speed) / 2) * step
  }
}
