/** What the link knows of one drive, whatever it speaks: the last that its frames said, and its part of the start-up. */
import type { Nanos } from '../clock.js'
import type { Joint } from '../files/rig.js'
import { isOff } from '../wire/cia402/state.js'
import type { DriveCommand, DriveState } from '../wire/observation.js'

/** Why a drive, or the whole rig, may not be moved. */
export interface Refusal {
  readonly says: string
  readonly expected: string
  readonly found: string
}

/** Something for the report that stopped nothing: what a drive did, or what cannot be checked of the drives of a bus. */
export type Notice =
  | { readonly drive: Drive; readonly says: string }
  | { readonly bus: number; readonly says: string }

/** How a drive that an earlier run left enabled is brought to rest. */
export interface CalmPlan {
  /** Looks at its state, one a tick, that cover the longest quick stop. */
  readonly polls: number
  /** s, how long a drive may take to be heard first. */
  readonly patience: number
  /** Told once when the drive was not off. */
  readonly onFoundOn: () => void
}

export abstract class Drive {
  readonly joint: Joint
  state: DriveState | 'unknown' = 'unknown'
  /** It says that it is enabled and follows its setpoint. */
  follows = false
  /** The start-up has found it following: it is held where it was, no longer shadowed. */
  held = false
  /** Time of the last feedback, -Infinity before the first. */
  feedbackAt: Nanos = Number.NEGATIVE_INFINITY

  /** Who it says that it is (`showDrive`), null: it has not said, or its protocol has no such thing. */
  identity: string | null = null
  /** Who it must be, null: anyone. */
  confirmed: string | null = null

  constructor(joint: Joint) {
    this.joint = joint
  }

  /** rad, last measured position; meaningless before `feedbackAt` is set, or the drive is seeded */
  abstract get position(): number

  /** It said after `t` that the motor has no torque. */
  offSince(t: Nanos): boolean {
    return this.feedbackAt > t && isOff(this.state)
  }

  /**
   * Asks for state and position by another way than the cyclic feedback, where there is one; the answer counts as feedback.
   * Called as often as one likes: one question is under way at a time.
   */
  inquire(_: Nanos): void {}

  /** What brings it one step nearer to being enabled, or null: nothing, or it is there. */
  abstract get next(): DriveCommand | null

  /** A step of the start-up that this drive has to itself is under way. */
  abstract get busy(): boolean
  /** Why that step ended badly. */
  abstract get refusal(): Refusal | undefined
  abstract tick(t: Nanos): void
  /** A stop: the step ends where it is, and nothing more of it leaves. */
  abstract cancel(): void

  /** Step 1: not enabled any more, and heard. */
  abstract calm(t: Nanos, plan: CalmPlan): void
  /** It has not been heard for long: whatever may wake it. */
  abstract wake(): void
  /** Step 2, after a reset of the network: from now on only what it says anew counts. */
  abstract forget(): void
  /** What is still missing after that, `late` being the time it had; null: nothing. */
  abstract unready(late: string): Refusal | null
  /** Step 3: set up, and read back. */
  abstract configure(t: Nanos): void
  /** Step 4: position known, target equal to it. */
  abstract seed(t: Nanos): void
  /** Step 5: what it should be saying besides its feedback, and does not; null: nothing. */
  abstract mute(late: string): Refusal | null
  /** What is said when no feedback comes once it should. */
  abstract readonly unheardSays: string
  /** Step 6: what it should have come to. */
  abstract readonly enabledMeans: string
}
