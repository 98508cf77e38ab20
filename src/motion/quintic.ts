/**
 * The minimum-jerk polynomial: position, speed and acceleration without a step, at rest at both ends.
 *
 * Source: T. Flash and N. Hogan, "The coordination of arm movements", J. Neuroscience 5(7):1688-1703 (1985), for one
 * straight movement: s = 10 t^3 - 15 t^4 + 6 t^5.
 */

/** Peak speed of a movement over distance D in time T, in units of D/T; at T/2. */
export const PEAK_SPEED = 15 / 8
/** Peak acceleration in units of D/T^2; at t/T = (3 -+ sqrt 3)/6. */
export const PEAK_ACCELERATION = 10 / Math.sqrt(3)

/** 0 before t = 0, 1 after t = 1, the quintic between: C2 everywhere. */
export function quintic(t: number): number {
  if (t <= 0) return 0
  if (t >= 1) return 1
  return t * t * t * (10 + t * (6 * t - 15))
}

/** First derivative of `quintic`. */
export function quinticSlope(t: number): number {
  if (t <= 0 || t >= 1) return 0
  return 30 * t * t * (1 - t) * (1 - t)
}

/** Second derivative of `quintic`. */
export function quinticCurvature(t: number): number {
  if (t <= 0 || t >= 1) return 0
  return 60 * t * (1 - t) * (1 - 2 * t)
}

/** The shortest time in which a quintic over `distance` stays within `speed` and `acceleration` (any one unit of length). */
export function quinticTime(distance: number, speed: number, acceleration: number): number {
  const d = Math.abs(distance)
  return Math.max((PEAK_SPEED * d) / speed, Math.sqrt((PEAK_ACCELERATION * d) / acceleration))
}

/** What a joint movement may use: rad/s and rad/s2. */
export interface MoveLimits {
  readonly speed: number
  readonly acceleration: number
}

/** All joints together from one pose to another, along one quintic, straight in joint space. */
export class JointMove {
  /** s; zero when there is nothing to move */
  readonly duration: number
  readonly #from: Float64Array
  readonly #to: Float64Array

  /**
   * @param from rad, n joints; copied
   * @param to rad, n joints; copied
   * @param limits n joints
   * @param share 0..1 of each limit that may be used
   * @param least s, shortest time that it may take
   */
  constructor(from: Float64Array, to: Float64Array, limits: readonly MoveLimits[], share: number, least = 0) {
    this.#from = from.slice()
    this.#to = to.slice()
    let duration = least
    for (let i = 0; i < from.length; i++) {
      const { speed, acceleration } = limits[i]!
      duration = Math.max(duration, quinticTime(to[i]! - from[i]!, share * speed, share * acceleration))
    }
    this.duration = duration
  }

  /** Writes the pose at `t` seconds after the start to `out` (rad, n joints); before and after it stands still. */
  at(t: number, out: Float64Array): void {
    const s = this.duration === 0 ? 1 : quintic(t / this.duration)
    for (let i = 0; i < out.length; i++) {
      const a = this.#from[i]!
      // The end is met to the last bit, so that whatever follows from this pose starts without a step.
      out[i] = s === 1 ? this.#to[i]! : a + s * (this.#to[i]! - a)
    }
  }
}
