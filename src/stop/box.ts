/**
 * The emergency-stop box as a fold: a normally closed contact in a modem line of a serial port. Only a line that is read
 * as active, now and for the settling time, means closed; open, unplugged, unreadable or not read for too long all mean
 * stop, at once. Time is handed in.
 *
 * A box read by a computer is no safety function: the hard-wired stop that removes power comes first.
 */
import type { Nanos } from '../clock.js'
import type { Contact } from '../files/event.js'

export interface BoxState {
  readonly contact: Contact
  /** Since when every reading has been closed; null: the last one was not. */
  readonly closedSince: Nanos | null
  /** When the last reading that came was asked for. */
  readonly readAt: Nanos
}

export const UNREAD: BoxState = { contact: 'lost', closedSince: null, readAt: Number.NEGATIVE_INFINITY }

export type BoxInput =
  /** The line as it was read; `t`: when it was asked for, so that an answer that took long is an old one. */
  | { readonly kind: 'read'; readonly closed: boolean; readonly t: Nanos }
  /** The port could not be read. */
  | { readonly kind: 'failed' }
  /** Time goes on. */
  | { readonly kind: 'time'; readonly t: Nanos }

export interface BoxTimes {
  /** ns for which the contact must be closed before it counts: a bouncing contact stays open */
  readonly settle: Nanos
  /** ns without a reading after which the box is lost */
  readonly patience: Nanos
}

export function boxStep(state: BoxState, input: BoxInput, { settle, patience }: BoxTimes): BoxState {
  switch (input.kind) {
    case 'read': {
      const { t } = input
      if (!input.closed) return { contact: 'open', closedSince: null, readAt: t }
      const unbroken = state.closedSince !== null && t - state.readAt <= patience
      const closedSince = unbroken ? state.closedSince! : t
      return { contact: t - closedSince >= settle ? 'closed' : 'open', closedSince, readAt: t }
    }
    case 'failed':
      return { ...state, contact: 'lost', closedSince: null }
    case 'time':
      return input.t - state.readAt <= patience ? state : { ...state, contact: 'lost', closedSince: null }
  }
}
