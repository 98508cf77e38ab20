/** Arms that somebody else leads have come to where they stay: all joints have been at rest for a while. */
import type { Nanos } from '../clock.js'
import type { Rig } from '../files/rig.js'
import type { JointLink } from '../link/link.js'
import { Still } from '../motion/still.js'

export class Settled {
  readonly #link: JointLink
  readonly #stills: readonly Still[]
  readonly #forSo: Nanos

  /** Twice the dwell after which a driver parks its blades: a rest before that is none (common practice, no source). */
  constructor({ stop, stroke, joints }: Pick<Rig, 'stop' | 'stroke' | 'joints'>, link: JointLink) {
    this.#link = link
    this.#stills = joints.map(() => new Still(stop.still.speed, stop.still.hold))
    this.#forSo = (2 * stroke.dwell + stop.still.hold) * 1e9
  }

  restart(): void {
    for (const still of this.#stills) still.restart()
  }

  /** Once a tick. @returns all joints have rested for so long */
  step(t: Nanos): boolean {
    let settled = true
    this.#link.drives.forEach((drive, j) => {
      const still = this.#stills[j]!
      still.see(drive.position, drive.feedbackAt)
      if (still.since === null || t - still.since < this.#forSo) settled = false
    })
    return settled
  }
}
