/** Bits and bytes of error frames as include/uapi/linux/can/error.h of the Linux kernel has them. */
import { expect, test } from 'vitest'
import { canError } from '../../../src/wire/can-error.js'

const none = { state: null, troubles: [], transmitErrors: null, receiveErrors: null }

test.each([
  ['transmit time-out', 0x001, [], { troubles: ['transmit time-out'] }],
  ['arbitration lost in bit 3', 0x002, [3], { troubles: ['arbitration lost'] }],
  ['receive overflow', 0x004, [0, 0x01], { troubles: ['receive overflow'] }],
  ['transmit overflow', 0x004, [0, 0x02], { troubles: ['transmit overflow'] }],
  [
    'warning, received',
    0x004,
    [0, 0x04, 0, 0, 0, 0, 0, 97],
    { state: 'warning', transmitErrors: 0, receiveErrors: 97 },
  ],
  [
    'warning, sent',
    0x004,
    [0, 0x08, 0, 0, 0, 0, 96, 1],
    { state: 'warning', transmitErrors: 96, receiveErrors: 1 },
  ],
  [
    'passive, received',
    0x204,
    [0, 0x10, 0, 0, 0, 0, 0, 128],
    { state: 'passive', transmitErrors: 0, receiveErrors: 128 },
  ],
  [
    'passive, sent',
    0x204,
    [0, 0x20, 0, 0, 0, 0, 128, 0],
    { state: 'passive', transmitErrors: 128, receiveErrors: 0 },
  ],
  ['active again', 0x004, [0, 0x40], { state: 'active' }],
  ['a stuffing error', 0x088, [0, 0, 0x04], { troubles: ['bus error'] }],
  ['a transceiver', 0x010, [0, 0, 0, 0, 0x04], { troubles: ['transceiver'] }],
  ['no acknowledgement', 0x0a8, [0, 0, 0, 0x19], { troubles: ['no acknowledgement'] }],
  ['bus-off', 0x040, [], { state: 'bus-off' }],
  ['restarted', 0x100, [], { state: 'active', troubles: ['restarted'] }],
  ['counters alone', 0x200, [0, 0, 0, 0, 0, 0, 12, 34], { transmitErrors: 12, receiveErrors: 34 }],
  ['nothing', 0, [], {}],
] as const)('%s', (_, errorClass, data, expected) => {
  const bytes = Uint8Array.from([...data, ...Array(8 - data.length).fill(0)])
  expect(canError(errorClass, bytes)).toEqual({ ...none, ...expected })
})
