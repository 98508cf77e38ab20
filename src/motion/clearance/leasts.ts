/** The nearest pairs of bodies, by group. */

/** Two bodies that came near each other. */
export interface Approach {
  /** m between their surfaces; below zero they overlap */
  readonly distance: number
  /** When, in the unit that `move` was given. */
  readonly t: number
  /** `arm.part`, of the group's arm */
  readonly first: string
  /** `arm.part`, or a volume */
  readonly second: string
  /** m, craft frame: the middle between the closest points of the two lines */
  readonly at: readonly [number, number, number]
  /** rad, all joints of the rig */
  readonly q: Float64Array
}

/** The least of each group, over some time. */
export class Leasts {
  readonly distance: Float64Array
  readonly pair: Int32Array
  /** Share of the motion. */
  readonly share: Float64Array
  /** m, three numbers a group */
  readonly at: Float64Array

  constructor(groups: number) {
    this.distance = new Float64Array(groups).fill(Number.POSITIVE_INFINITY)
    this.pair = new Int32Array(groups)
    this.share = new Float64Array(groups)
    this.at = new Float64Array(3 * groups)
  }

  /** Takes a pair's distance and closest points (see segments.ts) if it is the nearest of its group. @returns whether it is */
  take(group: number, pair: number, share: number, closest: Float64Array): boolean {
    if (closest[0]! >= this.distance[group]!) return false
    this.distance[group] = closest[0]!
    this.pair[group] = pair
    this.share[group] = share
    for (let k = 0; k < 3; k++) this.at[3 * group + k] = (closest[1 + k]! + closest[4 + k]!) / 2
    return true
  }
}
