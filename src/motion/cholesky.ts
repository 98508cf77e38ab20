/**
 * Cholesky factors of small symmetric positive definite matrices (m x m, row by row), in place, allocation-free.
 * Source: G. H. Golub, C. F. Van Loan, "Matrix Computations", 4th ed. (2013), 4.2 (from memory).
 */

/**
 * Overwrites the lower triangle of `a` with L, a = L L^T. A pivot that rounding has made zero or negative is replaced by
 * a tiny one: the matrix was singular to working precision, and `inverseTrace` then says so by being huge.
 */
export function factor(a: Float64Array, m: number): void {
  for (let j = 0; j < m; j++) {
    let d = a[j * m + j]!
    for (let k = 0; k < j; k++) d -= a[j * m + k]! * a[j * m + k]!
    const root = Math.sqrt(Math.max(d, 1e-24))
    const inverse = 1 / root
    a[j * m + j] = root
    for (let i = j + 1; i < m; i++) {
      let s = a[i * m + j]!
      for (let k = 0; k < j; k++) s -= a[i * m + k]! * a[j * m + k]!
      a[i * m + j] = s * inverse
    }
  }
}

/** Solves L L^T x = b in place of b, m numbers. @param l as `factor` leaves it */
export function solve(l: Float64Array, m: number, b: Float64Array): void {
  for (let i = 0; i < m; i++) {
    let s = b[i]!
    for (let k = 0; k < i; k++) s -= l[i * m + k]! * b[k]!
    b[i] = s / l[i * m + i]!
  }
  for (let i = m - 1; i >= 0; i--) {
    let s = b[i]!
    for (let k = i + 1; k < m; k++) s -= l[k * m + i]! * b[k]!
    b[i] = s / l[i * m + i]!
  }
}

/** The trace of (L L^T)^-1: the sum of squares of L^-1. @param column m numbers of working space */
export function inverseTrace(l: Float64Array, m: number, column: Float64Array): number {
  let sum = 0
  for (let j = 0; j < m; j++) {
    for (let i = j; i < m; i++) {
      let s = i === j ? 1 : 0
      for (let k = j; k < i; k++) s -= l[i * m + k]! * column[k]!
      const x = s / l[i * m + i]!
      column[i] = x
      sum += x * x
    }
  }
  return sum
}
