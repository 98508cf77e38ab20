/**
 * The closed position loop of a drive as a linear second-order system, stepped exactly on a fixed grid:
 *
 *     x'' = w^2 (r - x) + 2 z w (f r' - x')      w: natural frequency, z: damping, f: share of r' fed forward
 *
 * The step is the matrix exponential of the damped oscillator in closed form (G. F. Franklin, J. D. Powell, M. L. Workman, "Digital
 * Control of Dynamic Systems", 3rd ed. (1998), ch. 4; from memory).
 *
 * Not modelled: the current and speed loops inside it, friction and load as disturbances of the loop (they
 * show in the torque only), elasticity between motor and joint, coupling between joints. Limits are
 * joint.ts's.
 */

/** True angle (rad) and speed (rad/s) of one joint; changed in place, so that stepping allocates nothing. */
export interface MotionState {
  position: number
  speed: number
}

export interface LoopSettings {
  /** Hz, undamped natural frequency */
  readonly frequency: number
  readonly damping: number
  /** 0..1 */
  readonly feedforward: number
}

export class PositionLoop {
  readonly #step: number
  readonly #stiffness: number
  readonly #damping: number
  readonly #feedforward: number
  /** s: the loop runs behind a steady reference speed by this time. */
  readonly #lag: number
  // exp(M step) of the homogeneous system y'' = -w^2 y - 2 z w y', row by row.
  readonly #a11: number
  readonly #a12: number
  readonly #a21: number
  readonly #a22: number

  /** @param step s, distance of the grid points */
  constructor({ frequency, damping, feedforward }: LoopSettings, step: number) {
    const w = 2 * Math.PI * frequency
    const alpha = damping * w
    const square = w * w - alpha * alpha
    const root = Math.sqrt(Math.abs(square))
    // Under-, over- and critically damped: c = cos, cosh, 1 and s = sin / root, sinh / root, step.
    const c = square > 0 ? Math.cos(root * step) : Math.cosh(root * step)
    const s = root === 0 ? step : (square > 0 ? Math.sin(root * step) : Math.sinh(root * step)) / root
    const decay = Math.exp(-alpha * step)
    this.#step = step
    this.#stiffness = w * w
    this.#damping = 2 * alpha
    this.#feedforward = feedforward
    this.#lag = (2 * damping * (1 - feedforward)) / w
    this.#a11 = decay * (c + alpha * s)
    this.#a12 = decay * s
    this.#a21 = -decay * s * w * w
    this.#a22 = decay * (c - alpha * s)
  }

  /** One grid step while the reference runs straight from `r0` to `r1` (rad). Exact for such a reference. */
  step(m: MotionState, r0: number, r1: number): void {
    const slope = (r1 - r0) / this.#step
    // Against the reference shifted by the steady lag the motion is homogeneous.
    const shift = this.#lag * slope
    const y = m.position - r0 + shift
    const dy = m.speed - slope
    m.position = r1 - shift + this.#a11 * y + this.#a12 * dy
    m.speed = slope + this.#a21 * y + this.#a22 * dy
  }

  /** rad/s2 that the loop asks for. @param r rad, reference @param slope rad/s, its slope */
  acceleration(m: MotionState, r: number, slope: number): number {
    return this.#stiffness * (r - m.position) + this.#damping * (this.#feedforward * slope - m.speed)
  }
}
