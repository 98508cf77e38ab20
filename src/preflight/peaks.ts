/** The greatest of a figure over all joints and over time, and where it was. */

/** Of each joint apart. */
export class Peaks {
  readonly value: Float64Array
  /** Of the stroke, when it was greatest. */
  readonly phase: Float64Array
  /** A second figure of the same moment. */
  readonly beside: Float64Array

  /** @param n joints */
  constructor(n: number) {
    this.value = new Float64Array(n).fill(Number.NEGATIVE_INFINITY)
    this.phase = new Float64Array(n)
    this.beside = new Float64Array(n)
  }

  offer(j: number, value: number, phase: number, beside = 0): void {
    if (!(value > this.value[j]!)) return
    this.value[j] = value
    this.phase[j] = phase
    this.beside[j] = beside
  }

  /** Index of the joint with the greatest of all, among those given. */
  worst(joints: readonly number[]): number {
    return joints.reduce((most, j) => (this.value[j]! > this.value[most]! ? j : most))
  }
}
