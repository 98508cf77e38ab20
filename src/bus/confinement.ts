/**
 * Error confinement of one CAN controller (ISO 11898-1, fault confinement), as a fold: (counters, what happened) ->
 * counters. The thresholds are those of Linux `can/error.h`; the steps are the standard's, from memory.
 *
 * Left out: stuff errors in arbitration (exception 2 of the transmitter's rule), and the further steps of 8 for flags
 * that stay dominant for long.
 */
import type { BusState } from '../files/event.js'

export const WARNING_AT = 96
export const PASSIVE_AT = 128
export const BUS_OFF_AT = 256
/** Where a success puts a receive counter that was error passive: 119 to 127 are permitted. */
const RECEIVE_AFTER_PASSIVE = 127
/** Recessive bits in a row, and how often they must be seen, before a controller takes part again after bus-off. */
export const RECOVERY_BITS = 128 * 11

export interface ErrorCounters {
  readonly transmit: number
  readonly receive: number
}

/** Nothing has gone wrong: always this very object, so that asking costs one comparison. */
export const NO_ERRORS: ErrorCounters = { transmit: 0, receive: 0 }

export type ConfinementInput =
  | 'sent' // a frame of its own went through
  | 'send failed' // it sent an error flag while it was sending
  | 'not acknowledged' // nobody answered, and no dominant bit followed its error flag
  | 'received' // a frame came in whole
  | 'receive failed' // it sent an error flag while it was receiving
  | 'flagged first' // and saw a dominant bit right after that flag: the others had not seen the error

export function confine({ transmit, receive }: ErrorCounters, input: ConfinementInput): ErrorCounters {
  switch (input) {
    case 'sent':
      return counters(Math.max(0, transmit - 1), receive)
    case 'send failed':
      return counters(transmit + 8, receive)
    case 'not acknowledged':
      // Exception 1: an error-passive controller alone on the bus must not switch itself off.
      return transmit >= PASSIVE_AT || receive >= PASSIVE_AT
        ? { transmit, receive }
        : counters(transmit + 8, receive)
    case 'received':
      return counters(transmit, receive >= PASSIVE_AT ? RECEIVE_AFTER_PASSIVE : Math.max(0, receive - 1))
    case 'receive failed':
      return counters(transmit, raised(receive, 1))
    case 'flagged first':
      return counters(transmit, raised(receive, 8))
  }
}

export function stateOf({ transmit, receive }: ErrorCounters): Exclude<BusState, 'down' | 'gone'> {
  if (transmit >= BUS_OFF_AT) return 'bus-off'
  const greatest = Math.max(transmit, receive)
  if (greatest >= PASSIVE_AT) return 'passive'
  return greatest >= WARNING_AT ? 'warning' : 'active'
}

/** A receive counter that is error passive already need not count on; controllers have eight bits for it. */
function raised(receive: number, by: number): number {
  return receive >= PASSIVE_AT ? receive : receive + by
}

function counters(transmit: number, receive: number): ErrorCounters {
  return transmit === 0 && receive === 0 ? NO_ERRORS : { transmit, receive }
}
