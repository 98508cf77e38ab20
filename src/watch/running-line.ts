/** Two quantities of each joint over a run, or a part of it: slope of the one on the other, their ranges, and how far they lie apart in the mean. */

export class RunningLine {
  readonly #count: Float64Array
  /** [joint] first pair: sums are about it, so that large offsets cost no digits */
  readonly #x0: Float64Array
  readonly #y0: Float64Array
  readonly #sx: Float64Array
  readonly #sy: Float64Array
  readonly #sxx: Float64Array
  readonly #sxy: Float64Array
  readonly #lowX: Float64Array
  readonly #highX: Float64Array
  readonly #lowY: Float64Array
  readonly #highY: Float64Array
  readonly #sums: readonly Float64Array[]

  constructor(joints: number) {
    const zeros = () => new Float64Array(joints)
    this.#count = zeros()
    this.#x0 = zeros()
    this.#y0 = zeros()
    this.#sx = zeros()
    this.#sy = zeros()
    this.#sxx = zeros()
    this.#sxy = zeros()
    this.#lowX = zeros()
    this.#highX = zeros()
    this.#lowY = zeros()
    this.#highY = zeros()
    this.#sums = [
      ...[this.#count, this.#sx, this.#sy, this.#sxx, this.#sxy],
      ...[this.#lowX, this.#highX, this.#lowY, this.#highY],
    ]
  }

  /** Begins anew. */
  restart(j: number): void {
    for (const sums of this.#sums) sums[j] = 0
  }

  put(j: number, x: number, y: number): void {
    if (this.#count[j] === 0) {
      this.#x0[j] = x
      this.#y0[j] = y
    }
    const a = x - this.#x0[j]!
    const b = y - this.#y0[j]!
    this.#count[j]!++
    this.#sx[j]! += a
    this.#sy[j]! += b
    this.#sxx[j]! += a * a
    this.#sxy[j]! += a * b
    if (a < this.#lowX[j]!) this.#lowX[j] = a
    if (a > this.#highX[j]!) this.#highX[j] = a
    if (b < this.#lowY[j]!) this.#lowY[j] = b
    if (b > this.#highY[j]!) this.#highY[j] = b
  }

  count(j: number): number {
    return this.#count[j]!
  }

  /** Greatest minus least x. */
  span(j: number): number {
    return this.#highX[j]! - this.#lowX[j]!
  }

  /** Of the least-squares line of y on x. */
  slope(j: number): number {
    return this.#xy(j) / this.#xx(j)
  }

  /** Range of y by that of x, with the sign of their correlation: how much farther the one swings, though it may be late. */
  ratio(j: number): number {
    return (Math.sign(this.#xy(j)) * (this.#highY[j]! - this.#lowY[j]!)) / this.span(j)
  }

  /** Mean of y - x. */
  apart(j: number): number {
    return this.#y0[j]! - this.#x0[j]! + (this.#sy[j]! - this.#sx[j]!) / this.#count[j]!
  }

  #xx(j: number): number {
    return this.#sxx[j]! - (this.#sx[j]! * this.#sx[j]!) / this.#count[j]!
  }

  #xy(j: number): number {
    return this.#sxy[j]! - (this.#sx[j]! * this.#sy[j]!) / this.#count[j]!
  }
}
