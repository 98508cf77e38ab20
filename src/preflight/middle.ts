/** Of setpoints at three looks in a row: place, speed and acceleration at the middle one, worked out once for all who ask. */
import type { Look } from '../bench/scenario-walk.js'
import type { ReferenceDriver } from '../driver/reference.js'
import type { Rig } from '../files/rig.js'

/** Rows of joints in the rig's order. The arrays are the same each time. */
export interface Middle {
  /** rad */
  readonly q: Float64Array
  /** rad/s, from the look before to the one after */
  readonly qd: Float64Array
  /** rad/s, from the middle look to the one after: no faster step is left out */
  readonly onward: Float64Array
  /** rad/s2 */
  readonly qdd: Float64Array
  /** Of the stroke, by arm. */
  readonly phase: Float64Array
}

export interface MiddleLook {
  see(middle: Middle): void
}

export class MiddleOfThree implements Look, Middle {
  readonly q: Float64Array
  readonly qd: Float64Array
  readonly onward: Float64Array
  readonly qdd: Float64Array
  readonly phase: Float64Array
  readonly #after: Float64Array
  readonly #nextPhase: Float64Array
  readonly #rig: Pick<Rig, 'arms'>
  readonly #driver: Pick<ReferenceDriver, 'sides'>
  readonly #period: number
  readonly #looks: readonly MiddleLook[]
  #seen = 0

  /** @param period s between two looks */
  constructor(
    rig: Pick<Rig, 'arms' | 'joints'>,
    driver: Pick<ReferenceDriver, 'sides'>,
    period: number,
    looks: readonly MiddleLook[],
  ) {
    const n = rig.joints.length
    this.#rig = rig
    this.#driver = driver
    this.#period = period
    this.#looks = looks
    this.q = new Float64Array(n)
    this.qd = new Float64Array(n)
    this.onward = new Float64Array(n)
    this.qdd = new Float64Array(n)
    this.phase = new Float64Array(rig.arms.length)
    this.#after = new Float64Array(n)
    this.#nextPhase = new Float64Array(rig.arms.length)
  }

  see(q: Float64Array): void {
    const T = this.#period
    for (let j = 0; j < q.length; j++) {
      const forth = (q[j]! - this.#after[j]!) / T
      const back = this.onward[j]!
      this.qd[j] = (back + forth) / 2
      this.qdd[j] = (forth - back) / T
      this.onward[j] = forth
      this.q[j] = this.#after[j]!
      this.#after[j] = q[j]!
    }
    const { arms } = this.#rig
    for (let a = 0; a < arms.length; a++) {
      this.phase[a] = this.#nextPhase[a]!
      this.#nextPhase[a] = this.#driver.sides[arms[a]!.side].phase
    }
    if (++this.#seen < 3) return
    for (let i = 0; i < this.#looks.length; i++) this.#looks[i]!.see(this)
  }
}
