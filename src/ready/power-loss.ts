/**
 * How the power of all drives went after the hard-wired stop, as a fold over looks at the arms. All that it says begins with
 * the first sign on the bus: the press itself is not seen, and takes its time until something shows.
 */
import type { Nanos } from '../clock.js'
import type { Joint } from '../files/rig.js'

/** How the power went, as the bus showed it. */
export interface PowerLost {
  /** Names of drives that still answered with power when the time was over. */
  readonly still: readonly string[]
  /** s from the first sign of loss on the bus to the last; null: there was none */
  readonly spread: number | null
  /** s from the first sign to the last joint at rest, by feedback; 0: none left its place. Null: it was not seen of all joints. */
  readonly toRest: number | null
  /** Names of joints whose feedback ended before they were seen at rest without power. */
  readonly unseen: readonly string[]
  /** Names of joints that were not at rest at the end. */
  readonly moving: readonly string[]
  /** rad, farthest that a joint was seen to move after the look before the press */
  readonly travel: number
}

/** Of each joint, as it was at `t`; null: not known. */
export interface ArmsLookedAt {
  readonly t: Nanos
  /** rad */
  readonly positions: readonly (number | null)[]
  /** Time of the last feedback. */
  readonly seen: readonly (number | null)[]
  /** Since when its drive has said that it has no voltage; null: it says that it has. */
  readonly off: readonly (number | null)[]
  /** Since when it has been at rest by its feedback; null: it moves. */
  readonly rest: readonly (number | null)[]
}

/** Feedback older than this counts as silence: control periods. */
const SILENT = 10

export class PowerLossFold {
  readonly #joints: readonly Pick<Joint, 'name'>[]
  readonly #silence: Nanos
  readonly #before: ArmsLookedAt
  readonly #lostAt: (Nanos | null)[]
  #last: ArmsLookedAt
  #travel = 0

  /** @param period s @param before the look before anybody was told to press */
  constructor(joints: readonly Pick<Joint, 'name'>[], period: number, before: ArmsLookedAt) {
    this.#joints = joints
    this.#silence = SILENT * period * 1e9
    this.#before = before
    this.#last = before
    this.#lostAt = joints.map(() => null)
  }

  see(look: ArmsLookedAt): void {
    const begun = this.#before.t
    this.#last = look
    this.#joints.forEach((_, j) => {
      const silent = this.#silent(j)
      if (this.#lostAt[j] === null && (silent || look.off[j] !== null))
        this.#lostAt[j] = Math.max(begun, silent ? (look.seen[j] ?? begun) : look.off[j]!)
      const from = this.#before.positions[j] ?? 0
      this.#travel = Math.max(this.#travel, Math.abs((look.positions[j] ?? from) - from))
    })
  }

  /** Drives that have lost their power, or fell silent. */
  get lost(): number {
    return this.#times().length
  }

  result(): PowerLost {
    const times = this.#times()
    const first = times.length === 0 ? null : Math.min(...times)
    const named = (is: (j: number) => boolean): string[] =>
      this.#joints.filter((_, j) => is(j)).map((joint) => joint.name)
    const unseen = named((j) => this.#silent(j))
    const moving = named((j) => !this.#silent(j) && this.#last.rest[j] === null)
    const rests = this.#last.rest.map((at) => Math.max(at ?? 0, first ?? 0))
    return {
      still: named((j) => this.#lostAt[j] === null),
      spread: first === null ? null : (Math.max(...times) - first) / 1e9,
      toRest:
        first === null || unseen.length > 0 || moving.length > 0 ? null : (Math.max(...rests) - first) / 1e9,
      unseen,
      moving,
      travel: this.#travel,
    }
  }

  #times(): Nanos[] {
    return this.#lostAt.filter((t) => t !== null)
  }

  #silent(j: number): boolean {
    return this.#last.t - (this.#last.seen[j] ?? this.#before.t) > this.#silence
  }
}
