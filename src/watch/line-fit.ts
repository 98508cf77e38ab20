/** A straight line through pairs: least squares of y on x, about the first pair so that large offsets cost no digits. */

export interface LineFit {
  readonly slope: number
  readonly offset: number
  /** Greatest distance of a y from the line. */
  readonly worst: number
  /** Greatest minus least of x, and of y. */
  readonly spanX: number
  readonly spanY: number
}

/** @param lag x is taken so many places earlier @returns slope NaN where x does not move */
export function lineFit(x: Float64Array, y: Float64Array, lag = 0): LineFit {
  const n = y.length - lag
  let [sx, sy, sxx, sxy] = [0, 0, 0, 0]
  let [lowX, highX, lowY, highY] = [Infinity, -Infinity, Infinity, -Infinity]
  const [x0, y0] = [x[0]!, y[lag]!]
  for (let i = 0; i < n; i++) {
    const a = x[i]! - x0
    const b = y[i + lag]! - y0
    sx += a
    sy += b
    sxx += a * a
    sxy += a * b
    if (a < lowX) lowX = a
    if (a > highX) highX = a
    if (b < lowY) lowY = b
    if (b > highY) highY = b
  }
  const slope = (sxy - (sx * sy) / n) / (sxx - (sx * sx) / n)
  const offset = y0 - slope * x0 + (sy - slope * sx) / n
  let worst = 0
  for (let i = 0; i < n; i++) worst = Math.max(worst, Math.abs(y[i + lag]! - slope * x[i]! - offset))
  return { slope, offset, worst, spanX: highX - lowX, spanY: highY - lowY }
}
