/** A simulated drive as its faults see it. */
import type { Scheduler } from '../../clock.js'
import type { Encoder } from '../encoder.js'
import type { DriveHealth } from '../health.js'
import type { JointMotion } from '../joint.js'
import type { Conduct } from './conduct.js'
import type { LineFaults, Streams } from './line.js'

/** A joint's place: what moves there, and what reads it. */
export interface Body {
  readonly motion: JointMotion
  readonly encoder: Encoder
}

export interface FaultyDrive {
  readonly scheduler: Scheduler
  readonly streams: Streams
  readonly line: LineFaults
  readonly conduct: Conduct
  /** What it reports of itself. */
  readonly health: DriveHealth
  /** Of the drive's own joint, whichever it moves. */
  readonly own: Body
  /** What it moves. */
  body: Body
  /** counts, the position that it was told last */
  readonly told: number
  power(on: boolean): void
  /** It goes into fault, with an emergency message where its protocol has such. */
  trip(code: number): void
  emergency(code: number): void
  /** Another node with its number boots. */
  twinBoots(): void
}
