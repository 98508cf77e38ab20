/** How far the blades truly are from where a sound driver would have them, from a time on. */
import type { Rig } from '../../src/files/rig.js'
import { Chain } from '../../src/motion/chain.js'

export class Excursion {
  /** m, the greatest distance of a blade's centre; what joints lag behind by is part of it */
  greatest = 0
  readonly #arms: readonly {
    readonly joints: readonly number[]
    readonly chain: Chain
    readonly q: Float64Array
  }[]

  constructor(rig: Rig) {
    this.#arms = rig.arms.map((arm) => ({
      joints: arm.joints,
      chain: new Chain(
        arm,
        arm.joints.map((j) => rig.joints[j]!),
      ),
      q: new Float64Array(arm.joints.length),
    }))
  }

  /** @param asked rad, where the joints should be; @param truth where they are */
  see(asked: ArrayLike<number>, truth: readonly number[]): void {
    for (const { joints, chain, q } of this.#arms) {
      joints.forEach((j, i) => {
        q[i] = asked[j]!
      })
      chain.forward(q)
      const [x, y, z] = [chain.blade[9]!, chain.blade[10]!, chain.blade[11]!]
      joints.forEach((j, i) => {
        q[i] = truth[j]!
      })
      chain.forward(q)
      const way = Math.hypot(chain.blade[9]! - x, chain.blade[10]! - y, chain.blade[11]! - z)
      if (way > this.greatest) this.greatest = way
    }
  }
}
