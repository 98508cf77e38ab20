/** How much a count of failures in a number of runs says. */

/** Confidence of all bounds. */
const CONFIDENCE = 0.95

/**
 * The greatest failure rate that `failures` in `runs` independent runs leave possible, one-sided at 95 %: the p at which so few failures
 * have a probability of 5 % (C. J. Clopper, E. S. Pearson, Biometrika 26:404-413, 1934). Without a failure 1 - 0.05^(1/runs).
 */
export function failureRateBound(failures: number, runs: number): number {
  if (failures >= runs) return 1
  let low = failures / runs
  let high = 1
  for (let i = 0; i < 100; i++) {
    const p = (low + high) / 2
    if (atMost(failures, runs, p) > 1 - CONFIDENCE) low = p
    else high = p
  }
  return high
}

/** Probability of at most k of n, each with probability p: sums of logarithms, so that no power underflows. */
function atMost(k: number, n: number, p: number): number {
  let log = n * Math.log1p(-p)
  let sum = Math.exp(log)
  for (let i = 1; i <= k; i++) {
    log += Math.log((n - i + 1) / i) + Math.log(p) - Math.log1p(-p)
    sum += Math.exp(log)
  }
  return sum
}
