/** Counts and radians, at the codec's edge: the one place where they meet. */

export interface Scale {
  readonly countsPerRadian: number
  readonly sign: 1 | -1
  readonly zero: number
}

/** rad */
export function toRadians(s: Scale, counts: number): number {
  return (s.sign * (counts - s.zero)) / s.countsPerRadian
}

/** counts, rounded to the nearest; not clamped to 32 bits: the caller has checked the position's limits. */
export function toCounts(s: Scale, position: number): number {
  return Math.round(s.sign * position * s.countsPerRadian + s.zero)
}
