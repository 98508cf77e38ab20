/** Bands (least and greatest value a bin) as outlines in a picture. */
import type { Band, Trace } from '../../verdict/verdict.js'

/** Joins neighbouring bins so that at most `most` are left, widest first bin kept: extremes are never lost. */
export function narrowed(
  trace: Trace,
  band: Band,
  most: number,
): { readonly band: Band; readonly join: number } {
  const join = Math.max(1, Math.ceil(trace.bins / most))
  if (join === 1) return { band, join }
  const n = Math.ceil(trace.bins / join)
  const min = new Float64Array(n).fill(Number.NaN)
  const max = new Float64Array(n).fill(Number.NaN)
  for (let i = 0; i < trace.bins; i++) {
    const to = Math.floor(i / join)
    // Written so that NaN on either side gives way to a number.
    if (!(min[to]! <= band.min[i]!) && !Number.isNaN(band.min[i]!)) min[to] = band.min[i]!
    if (!(max[to]! >= band.max[i]!) && !Number.isNaN(band.max[i]!)) max[to] = band.max[i]!
  }
  return { band: { min, max }, join }
}

/** Least and greatest value of all; NaN when there is none. */
export function extremes(band: Band): readonly [number, number] {
  let low = Number.NaN
  let high = Number.NaN
  for (let i = 0; i < band.min.length; i++) {
    if (!(low <= band.min[i]!) && !Number.isNaN(band.min[i]!)) low = band.min[i]!
    if (!(high >= band.max[i]!) && !Number.isNaN(band.max[i]!)) high = band.max[i]!
  }
  return [low, high]
}

/**
 * SVG path: for each run of bins with samples, along the greatest values and back along the least.
 * Places are tenths of a picture unit, relative to the one before: short, and rounding does not add up.
 */
export function outline(band: Band, x: (bin: number) => number, y: (value: number) => number): string {
  let path = ''
  let lastX = 0
  let lastY = 0
  const to = (command: 'm' | 'l', px: number, py: number): void => {
    const tx = Math.round(px * 10)
    const ty = Math.round(py * 10)
    path += `${command}${(tx - lastX) / 10} ${(ty - lastY) / 10}`
    lastX = tx
    lastY = ty
  }
  const n = band.min.length
  for (let i = 0; i < n; i++) {
    if (Number.isNaN(band.min[i]!)) continue
    const first = i
    while (i < n && !Number.isNaN(band.min[i]!)) i++
    const startX = x(first + 0.5)
    to('m', startX, y(band.max[first]!))
    const [originX, originY] = [lastX, lastY]
    for (let j = first + 1; j < i; j++) to('l', x(j + 0.5), y(band.max[j]!))
    for (let j = i - 1; j >= first; j--) to('l', x(j + 0.5), y(band.min[j]!))
    path += 'z'
    // Closing puts the pen back to where this run began (SVG 1.1, 8.3.3).
    lastX = originX
    lastY = originY
  }
  return path
}
