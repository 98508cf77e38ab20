/**
 * Reports of the controller, which the Linux kernel gives as frames with an error flag: what their identifier's bits and bytes
 * mean (include/uapi/linux/can/error.h).
 */

export type CanTrouble =
  | 'no acknowledgement'
  | 'bus error'
  | 'arbitration lost'
  | 'transmit time-out'
  | 'receive overflow'
  | 'transmit overflow'
  | 'transceiver'
  | 'restarted'

export interface CanError {
  /** The state from now on; null: it says nothing of it. */
  readonly state: 'active' | 'warning' | 'passive' | 'bus-off' | null
  readonly troubles: readonly CanTrouble[]
  /** null: not given */
  readonly transmitErrors: number | null
  readonly receiveErrors: number | null
}

const CLASS = {
  transmitTimeout: 0x001,
  arbitrationLost: 0x002,
  controller: 0x004,
  protocol: 0x008,
  transceiver: 0x010,
  acknowledgement: 0x020,
  busOff: 0x040,
  busError: 0x080,
  restarted: 0x100,
  counters: 0x200,
} as const

/** Bits of data byte 1, of the class `controller`. */
const CONTROLLER = {
  receiveOverflow: 0x01,
  transmitOverflow: 0x02,
  warning: 0x04 | 0x08,
  passive: 0x10 | 0x20,
  active: 0x40,
} as const

/**
 * @param errorClass the identifier without its flags
 * @param data 8 bytes
 */
export function canError(errorClass: number, data: Uint8Array): CanError {
  const has = (bit: number): boolean => (errorClass & bit) !== 0
  const controller = has(CLASS.controller) ? (data[1] ?? 0) : 0
  const troubles: CanTrouble[] = []
  if (has(CLASS.transmitTimeout)) troubles.push('transmit time-out')
  if (has(CLASS.arbitrationLost)) troubles.push('arbitration lost')
  if (controller & CONTROLLER.receiveOverflow) troubles.push('receive overflow')
  if (controller & CONTROLLER.transmitOverflow) troubles.push('transmit overflow')
  if (has(CLASS.transceiver)) troubles.push('transceiver')
  // A missing acknowledgement comes with the classes of a wrong frame, which says less.
  if (has(CLASS.acknowledgement)) troubles.push('no acknowledgement')
  else if (has(CLASS.protocol | CLASS.busError)) troubles.push('bus error')
  if (has(CLASS.restarted)) troubles.push('restarted')
  const counted = has(CLASS.counters) || (controller & (CONTROLLER.warning | CONTROLLER.passive)) !== 0
  return {
    state: stateOf(has(CLASS.busOff), has(CLASS.restarted), controller),
    troubles,
    transmitErrors: counted ? (data[6] ?? null) : null,
    receiveErrors: counted ? (data[7] ?? null) : null,
  }
}

function stateOf(busOff: boolean, restarted: boolean, controller: number): CanError['state'] {
  if (busOff) return 'bus-off'
  if (controller & CONTROLLER.passive) return 'passive'
  if (controller & CONTROLLER.warning) return 'warning'
  return restarted || controller & CONTROLLER.active ? 'active' : null
}
