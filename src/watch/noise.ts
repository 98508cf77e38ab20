/** What an encoder adds to a position, as white noise. */
import type { Joint } from '../files/rig.js'

/**
 * rad, standard deviation: quantisation (uniform over one count: 1/sqrt 12 of it) and the stated noise, uncorrelated.
 * @param noiseCounts counts, standard deviation that the rig states
 */
export function positionNoise(joint: Joint, noiseCounts: number): number {
  return Math.sqrt(1 / 12 + noiseCounts * noiseCounts) / joint.wire.countsPerRadian
}
