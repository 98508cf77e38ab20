/** What the drive of a joint may give in a run. */
import type { Joint, Rig } from '../files/rig.js'

/** N m: what the run allows it (`link.torque-share`), and no more than its peak rating. */
export function torqueLimit(
  { link }: Pick<Rig, 'link'>,
  { limits, rating }: Pick<Joint, 'limits' | 'rating'>,
): number {
  return Math.min(link.torqueShare * limits.torque, rating?.peak ?? Number.POSITIVE_INFINITY)
}
