/** What can go wrong with the harness's end of a mock bus, or with the bus. */
import type { FaultKind } from './kind.js'

export const BUS_FAULTS = {
  down: { target: 'bus', says: "The harness's interface to the bus is down" },
  unplugged: { target: 'bus', says: "The harness's plug is pulled: nobody acknowledges what it sends" },
  gone: { target: 'bus', says: "The harness's adapter vanishes, for good", forGood: true },
  disturbed: {
    target: 'bus',
    says: 'Frames of the bus are disturbed, and sent again',
    amount: {
      key: 'share',
      quantity: 'share',
      about: 'of all frames',
      range: { above: '0 %', max: '100 %' },
      example: '5 %',
    },
  },
  'bus-off': {
    target: 'bus',
    says: 'Nothing that the harness sends comes through, until its controller switches itself off',
  },
  unacknowledged: {
    target: 'bus',
    says: 'Nobody acknowledges what the harness sends, and nobody takes it; what others send still comes in',
  },
  'wrong-bitrate': {
    target: 'bus',
    says: "The harness's controller has another bit rate than the bus: all that it sends is disturbed, and it hears nothing but errors",
  },
  'queue-full': {
    target: 'bus',
    says: "The harness's interface has room for fewer frames that wait",
    amount: {
      key: 'frames',
      quantity: 'whole',
      about: 'that may wait',
      range: { least: 0, most: 1000 },
      example: '4',
    },
  },
  overflow: {
    target: 'bus',
    says: 'Frames that come in find no room at the harness, and are lost',
    amount: {
      key: 'frames',
      quantity: 'whole',
      about: 'the next ones',
      range: { least: 1, most: 1000000 },
      example: '50',
    },
  },
  batched: {
    target: 'bus',
    says: "The harness's adapter hands over what comes in by batches",
    amount: {
      key: 'every',
      quantity: 'time',
      about: 'from one batch to the next',
      range: { min: '1 ms', max: '10 s' },
      example: '16 ms',
    },
  },
  stray: {
    target: 'bus',
    says: 'A stranger sends frames with an identifier that the rig does not know',
    amount: {
      key: 'rate',
      quantity: 'frequency',
      about: 'of its frames',
      range: { min: '0.1 Hz', max: '5 kHz' },
      example: '10 Hz',
    },
  },
  'second-master': {
    target: 'bus',
    says: 'Somebody else sends setpoints of zero counts to the first joint of the bus',
    amount: {
      key: 'rate',
      quantity: 'frequency',
      about: 'of its frames',
      range: { min: '0.1 Hz', max: '5 kHz' },
      example: '10 Hz',
    },
  },
  flooded: {
    target: 'bus',
    says: 'A babbling node loads the bus with frames that go before all others',
    amount: {
      key: 'share',
      quantity: 'share',
      about: 'of the time that they take',
      range: { above: '0 %', max: '100 %' },
      example: '50 %',
    },
  },
} as const satisfies Record<string, FaultKind>
