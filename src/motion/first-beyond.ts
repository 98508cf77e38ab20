/** Where a quantity first passes 1, going up from zero. */

/** Halvings after the scan, unless told otherwise: 2^-30 of a step. */
const HALVINGS = 30

/**
 * The least x at which `share` is beyond 1, by a scan and then by halving: exact but for what rises above 1 and falls back within one
 * step of the scan.
 * @param step of the scan, in the unit of x; @param most end of the scan
 * @returns 0: beyond 1 from the beginning; Infinity: nowhere up to `most`
 */
export function firstBeyond(
  share: (x: number) => number,
  step: number,
  most: number,
  halvings: number = HALVINGS,
): number {
  // At zero itself nothing moves, and a rate of zero has no period.
  let low = 1e-6 * step
  if (share(low) > 1) return 0
  for (let i = 1; low < most; i++) {
    let high = Math.min(i * step, most)
    if (!(share(high) > 1)) {
      low = high
      continue
    }
    for (let k = 0; k < halvings; k++) {
      const middle = (low + high) / 2
      if (share(middle) > 1) high = middle
      else low = middle
    }
    return low
  }
  return Number.POSITIVE_INFINITY
}
