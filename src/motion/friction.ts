/**
 * Friction of joints: viscous, and Coulomb with a value of its own for each direction. Source: the model that P. I. Corke and B.
 * Armstrong-Helouvry fit, ICRA 1994, pp. 1608-1613, seen at the joint.
 */
import type { Train } from './body.js'

/**
 * What the drives must give more because joints rub; at a joint that stands still, nothing: there friction is whatever keeps it
 * still, anywhere between its two Coulomb values.
 * @param trains n, from base to tip
 * @param qd rad/s, n
 * @param out N m, n; what a drive gives against it: of the speed's sign
 */
export function friction(trains: readonly Train[], qd: Float64Array, out: Float64Array): void {
  for (let i = 0; i < trains.length; i++) {
    const { viscous, coulomb } = trains[i]!
    const speed = qd[i]!
    out[i] = viscous * speed + (speed > 0 ? coulomb[0] : speed < 0 ? coulomb[1] : 0)
  }
}
