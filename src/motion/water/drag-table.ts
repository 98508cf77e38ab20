/**
 * Drag of a hull from rows of speed and force that somebody towed or was told, without overshoot between them.
 *
 * A cubic through each pair of rows, with slopes that keep it monotone. Source: F. N. Fritsch and J. Butland, "A method for
 * constructing local monotone piecewise cubic interpolants", SIAM J. Sci. Stat. Comput. 5(2):300-304 (1984); at both ends the
 * three-point slope, zero at least (C. Moler, "Numerical Computing
 * with MATLAB", 2004, ch. 3; from memory). Beyond the last row the drag goes on by the square of the speed.
 */
import { DrystrokeError } from '../../errors.js'
import type { DragRow } from '../../files/rig.js'
import { refuse } from '../bounds.js'
import type { Resistance } from './hull-drag.js'

export class DragTable implements Resistance {
  /** m/s: the last row. Faster than this, `force` is a guess. */
  readonly top: number
  readonly #speeds: Float64Array
  readonly #forces: Float64Array
  readonly #slopes: Float64Array

  /**
   * @param rows by rising speed, two or more; no force at no speed goes without saying. Astern is taken as ahead.
   * @throws DrystrokeError `file-invalid`, naming the row
   */
  constructor(rows: readonly DragRow[]) {
    const given = rows[0]?.speed === 0 ? rows : [{ speed: 0, force: 0 }, ...rows]
    check(rows, given)
    this.#speeds = Float64Array.from(given, (row) => row.speed)
    this.#forces = Float64Array.from(given, (row) => row.force)
    this.#slopes = slopes(this.#speeds, this.#forces)
    this.top = given.at(-1)!.speed
  }

  force(speed: number): number {
    const size = Math.abs(speed)
    const x = this.#speeds
    const y = this.#forces
    const last = x.length - 1
    if (size >= x[last]!) {
      const ratio = size / x[last]!
      return Math.sign(speed) * y[last]! * ratio * ratio
    }
    let i = 0
    while (size >= x[i + 1]!) i++
    const h = x[i + 1]! - x[i]!
    const t = (size - x[i]!) / h
    const rest = 1 - t
    // Hermite's cubic.
    const here = y[i]! * rest * rest * (1 + 2 * t) + y[i + 1]! * t * t * (3 - 2 * t)
    const bent = h * t * rest * (this.#slopes[i]! * rest - this.#slopes[i + 1]! * t)
    return Math.sign(speed) * (here + bent)
  }
}

function check(rows: readonly DragRow[], given: readonly DragRow[]): void {
  const what = 'hull.drag'
  if (given.length < 3) {
    throw new DrystrokeError(
      'file-invalid',
      `${what} has ${rows.length} rows with a speed above zero; expected two or more, give speeds and forces from a towing test, or the wetted area instead`,
    )
  }
  const shift = given.length - rows.length
  given.forEach(({ speed, force }, i) => {
    const row = `${what}, row ${i + 1 - shift}`
    if (!Number.isFinite(speed) || !Number.isFinite(force)) {
      throw new DrystrokeError(
        'file-invalid',
        `${row}: ${speed} m/s, ${force} N; expected two finite numbers`,
      )
    }
    if (i === 0) {
      if (force !== 0) refuse(`${row}: force at no speed`, force, 'N', '0 N')
      return
    }
    const before = given[i - 1]!
    if (speed <= before.speed)
      refuse(`${row}: speed`, speed, 'm/s', `more than ${before.speed} m/s, rows by rising speed`)
    if (force < before.force || force === 0) {
      refuse(
        `${row}: force`,
        force,
        'N',
        i === 1 ? 'more than 0 N' : `${before.force} N or more, drag does not fall with speed`,
      )
    }
  })
}

function slopes(x: Float64Array, y: Float64Array): Float64Array {
  const n = x.length
  const out = new Float64Array(n)
  const h = (i: number) => x[i + 1]! - x[i]!
  const secant = (i: number) => (y[i + 1]! - y[i]!) / h(i)
  for (let i = 1; i < n - 1; i++) {
    const [a, b] = [secant(i - 1), secant(i)]
    // Never below zero: drag does not fall. The harmonic mean, weighted for unequal steps.
    if (a === 0 || b === 0) continue
    const [w1, w2] = [2 * h(i) + h(i - 1), h(i) + 2 * h(i - 1)]
    out[i] = (w1 + w2) / (w1 / a + w2 / b)
  }
  out[0] = endSlope(h(0), h(1), secant(0), secant(1))
  out[n - 1] = endSlope(h(n - 2), h(n - 3), secant(n - 2), secant(n - 3))
  return out
}

/** At an end, from the two steps and secants next to it, nearest first. */
function endSlope(h0: number, h1: number, a: number, b: number): number {
  return Math.max(0, ((2 * h0 + h1) * a - h0 * b) / (h0 + h1))
}
