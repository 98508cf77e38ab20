/** A driver that owns the buses, as the bench has it: told what to do, silenced when it does not obey, and known to be gone. */
import type { Nanos } from '../clock.js'
import type { DrystrokeError } from '../errors.js'
import type { Stage } from '../files/event.js'
import type { Command } from '../files/scenario.js'

/**
 * What the driver is to do. enable: set its drives up, enable them, and hold the arms where they are. follow: go to where it
 * starts, and obey the commands. disable: take the torque away. stop: no setpoint and no enable; only its SYNC goes on.
 */
export type OwnerOrder = 'enable' | 'follow' | 'disable' | 'stop'

export interface BusOwner {
  /** It can be told orders; otherwise it is told commands alone, and enables its drives when it wants to. */
  readonly heeds: boolean
  /** Its process is one of ours, and can be ended. */
  readonly ours: boolean
  /** Something of it is broken: what it sent was no message, it is lost. Left out or null: nothing is. */
  readonly trouble?: DrystrokeError | null
  /** A new start begins: what was lost and has come back since is met anew. */
  meetAnew?(): void
  /** Once a tick; the command is at rest unless the order is to follow, and null while none is to reach it. */
  tell(order: OwnerOrder, command: Command | null, t: Nanos): void
  /** Ends its process and all of the same group for good, at once. Without one of ours nothing happens. */
  silence(): void
  /** Its process was ours, and nothing of it can send any more. */
  readonly gone: boolean
}

const ORDERS: Readonly<Record<Stage, OwnerOrder>> = {
  setup: 'enable',
  seed: 'enable',
  enable: 'enable',
  prove: 'stop',
  approach: 'follow',
  play: 'follow',
  park: 'follow',
  disable: 'disable',
  rest: 'disable',
  stopping: 'stop',
  stopped: 'stop',
}

/** @param stage null: the run has not begun, and nothing is to move yet */
export const orderIn = (stage: Stage | null): OwnerOrder => (stage === null ? 'stop' : ORDERS[stage])
