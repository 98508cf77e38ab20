/** What can be found of a bus's controller, as findings without place, time and stop. Usual causes: common practice, no source. */
import type { BusState, BusTrouble, Finding } from '../files/event.js'
import type { BusEvent } from './bus-health.js'

type Words = Omit<Finding, 'watch' | 'place' | 't' | 'stop'>

/** Count of errors at which a controller is error passive, and at which it warns: Linux can/error.h. */
export const PASSIVE = 128
const WARNING = 96

const STATE = { quantity: 'bus state', value: 1, limit: 0, unit: 'none' } as const
const TROUBLE = { quantity: 'bus trouble', value: 1, limit: 0, unit: 'none' } as const

const LINE = "every node's bit rate, the two terminating resistors, plugs and cable"
const ALONE = 'the plug of the adapter and the power of the drives, then bit rate and termination'

export const LOST: Record<Extract<BusState, 'down' | 'gone' | 'bus-off'>, Words> = {
  down: {
    ...STATE,
    severity: 'failure',
    says: 'The bus is down: nothing can be sent or heard there.',
    why: 'No stop reaches arms on a bus that is down: only their own watchdogs stop them.',
    look: 'Look at the interface (is it up?), at the adapter and its cable, and who took it down.',
  },
  gone: {
    ...STATE,
    severity: 'failure',
    says: 'The adapter of this bus has vanished.',
    why: 'No stop reaches arms without an adapter: only their own watchdogs stop them.',
    look: "Look at the adapter's plug and power; it has to be opened anew, in another run.",
  },
  'bus-off': {
    ...STATE,
    severity: 'failure',
    says: 'The controller has switched itself off the bus (bus-off): too many of its frames failed.',
    why: 'No stop reaches the arms from a controller that is off: only their own watchdogs stop them.',
    look: `Look for a short circuit, then at ${LINE}; it stays off until it is restarted, as restart-ms is off by default.`,
  },
}

/** Trouble that is told; what is not listed here is told by what follows from it. */
export const TROUBLES: Partial<Record<BusTrouble, Words>> = {
  'no acknowledgement': {
    ...TROUBLE,
    severity: 'warning',
    says: 'A frame of ours was acknowledged by nobody.',
    why: 'A controller that is alone on its bus repeats that frame for ever, and its queue fills.',
    look: `Look at ${ALONE}.`,
  },
  'bus error': {
    ...TROUBLE,
    severity: 'warning',
    says: 'Frames on this bus are disturbed, and sent again.',
    why: 'Each is late by itself and its error frame; with many the controllers switch themselves off.',
    look: `Look at ${LINE}, then for what makes noise beside it.`,
  },
  'transmit time-out': {
    ...TROUBLE,
    severity: 'warning',
    says: 'A frame could not be sent in time.',
    why: 'Setpoints that are late are dropped, and a stop would be late too.',
    look: `Look at the load of the bus, then at ${LINE}.`,
  },
  transceiver: {
    ...TROUBLE,
    severity: 'warning',
    says: 'The transceiver of this bus reports a fault.',
    why: 'A line that is broken or shorted carries frames only by luck.',
    look: 'Look at the two wires of the bus, for a break or a short circuit, and at its supply.',
  },
  'receive overflow': {
    ...TROUBLE,
    severity: 'doubt',
    says: 'Frames came in faster than they were taken, and are lost.',
    why: 'What was in them nobody knows: this run has not shown what it should.',
    look: "Look at the machine's load and at the adapter's buffer, then repeat the run.",
  },
  'transmit overflow': {
    ...TROUBLE,
    severity: 'failure',
    says: 'Frames that had been handed over are lost.',
    why: 'A stop may have been among them.',
    look: "Look at the adapter's transmit queue and at the load of the bus.",
  },
  garbled: {
    ...TROUBLE,
    severity: 'warning',
    says: 'The adapter sent text that means nothing.',
    why: 'A frame may have been in it.',
    look: 'Look at the serial rate, at the plug, and whether another program has the port open.',
  },
}

export function warned(e: BusEvent): Words {
  return {
    ...counted(e, WARNING),
    severity: 'warning',
    says: 'An error counter of the controller has reached the warning level.',
    why: 'With more errors it becomes error passive, and then switches itself off.',
    look: `Look at ${LINE}, then for what makes noise beside it.`,
  }
}

export function risen(value: number, limit: number): Words {
  return {
    quantity: 'error counters, rise',
    value,
    limit,
    unit: 'count',
    severity: 'warning',
    says: 'The error counters of the controller rise faster than frames that come through bring them down.',
    why: 'It goes on so to error passive, and from there to a bus on which no stop goes out.',
    look: `Look at ${LINE}, then for what makes noise beside it.`,
  }
}

export function passive(e: BusEvent, alone: boolean): Omit<Words, 'severity'> {
  return {
    ...counted(e, PASSIVE),
    says: alone
      ? 'Nobody acknowledges what the harness sends: its controller is error passive.'
      : 'The controller is error passive: too many frames are disturbed.',
    why: alone
      ? 'The drives do not hear the harness: only their own watchdogs stop them.'
      : 'With some more errors the controller switches itself off, and no stop goes out any more.',
    look: alone ? `Look at ${ALONE}.` : `Look at ${LINE}, then for what makes noise beside it.`,
  }
}

/** @param away s */
export function back(away: number): Words {
  return {
    quantity: 'bus away',
    value: away,
    limit: 0,
    unit: 's',
    severity: 'warning',
    says: 'The bus is back.',
    why: 'Nothing moves by itself: the stop stays latched, and what was asked for before it is void.',
    look: 'Look why it went before you release, reset and start anew.',
  }
}

function counted({ transmitErrors, receiveErrors }: BusEvent, limit: number) {
  const value = Math.max(transmitErrors ?? 0, receiveErrors ?? 0)
  const quantity = (transmitErrors ?? 0) >= (receiveErrors ?? 0) ? 'transmit errors' : 'receive errors'
  return { quantity, value, limit, unit: 'count' } as const
}
