/** Friction of joints: viscous and Coulomb, each direction with its own. */
import type { Train } from './body.js'

/**
 * What the drives must give more because joints rub; at a joint that stands still, nothing: there friction is whatever keeps it
 * still, anywhere between its two Coulomb values.
 * @param qd rad/s, n
 * @param out N m, n
 */
export function friction(trains: readonly Train[], qd: Float64Array, out: Float64Array): void {
  for (let i = 0; i < trains.length; i++) {
    const { viscous, coulomb } = trains[i]!
    const speed = qd[i]!
    out[i] = viscous * speed + (speed > 0 ? coulomb[0] : speed < 0 ? coulomb[1] : 0)
  }
}
