/**
 * Singular values of a small matrix, by one-sided Jacobi rotations: rows are turned in pairs until all are square to each other;
 * their lengths are then the singular values, small ones to full relative precision. Source: M. R. Hestenes, "Inversion of matrices by
 * biorthogonalization and related results", J. SIAM 6(1):51-90 (1958); G. H. Golub, C. F. Van Loan, "Matrix Computations", 4th ed.
 * (2013), 8.6.3.
 */

/** Sweeps over all pairs; a handful is enough for matrices of this size. */
const MOST_SWEEPS = 30
/** Cosine of the angle between two rows that counts as square. */
const SQUARE = 1e-15

/**
 * @param a m x n, row by row, m <= n; is overwritten
 * @param out the m singular values, falling
 */
export function singularValues(a: Float64Array, m: number, n: number, out: Float64Array): void {
  for (let sweep = 0, turned = true; turned && sweep < MOST_SWEEPS; sweep++) {
    turned = false
    for (let i = 0; i < m - 1; i++)
      for (let j = i + 1; j < m; j++) if (squareUp(a, i * n, j * n, n)) turned = true
  }
  for (let i = 0; i < m; i++) {
    let square = 0
    for (let k = 0; k < n; k++) square += a[i * n + k]! * a[i * n + k]!
    out[i] = Math.sqrt(square)
  }
  out.subarray(0, m).sort().reverse()
}

/** Turns two rows, at p and q, until they are square. @returns whether they were not */
function squareUp(a: Float64Array, p: number, q: number, n: number): boolean {
  let alpha = 0
  let beta = 0
  let gamma = 0
  for (let k = 0; k < n; k++) {
    const x = a[p + k]!
    const y = a[q + k]!
    alpha += x * x
    beta += y * y
    gamma += x * y
  }
  if (Math.abs(gamma) <= SQUARE * Math.sqrt(alpha * beta)) return false
  // The smaller of the two angles that do it.
  const zeta = (beta - alpha) / (2 * gamma)
  const t = (zeta < 0 ? -1 : 1) / (Math.abs(zeta) + Math.hypot(1, zeta))
  const c = 1 / Math.hypot(1, t)
  const s = c * t
  for (let k = 0; k < n; k++) {
    const x = a[p + k]!
    const y = a[q + k]!
    a[p + k] = c * x - s * y
    a[q + k] = s * x + c * y
  }
  return true
}
