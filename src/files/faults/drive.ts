/** Faults of what a drive does. */
import type { FaultKind } from './kind.js'

export const DRIVE_FAULTS = {
  weak: {
    target: 'joint',
    says: 'The drive gives only a part of its torque',
    amount: {
      key: 'share',
      quantity: 'share',
      about: 'that is left of what it may give',
      range: { above: '0 %', max: '100 %' },
      example: '20 %',
    },
  },
  hot: {
    target: 'joint',
    says: 'The drive grows too hot, and reports it: its torque fades away evenly, then it goes into fault with code 4310h',
    amount: {
      key: 'time',
      quantity: 'time',
      about: 'until it goes into fault',
      range: { min: '10 ms', max: '60 min' },
      example: '2 s',
    },
  },
  lagging: {
    target: 'joint',
    says: 'The drive acts on each setpoint late',
    amount: {
      key: 'delay',
      quantity: 'time',
      about: 'by which it is late',
      range: { above: '0 s', max: '2 s' },
      example: '80 ms',
    },
  },
  tripped: { target: 'joint', says: 'The drive goes into fault by itself, with code 5000h', forGood: true },
  'stop-ignored': { target: 'joint', says: 'The drive takes no notice of a quick stop; it can be disabled' },
  'stop-missed': {
    target: 'joint',
    says: 'The drive misses frames that would stop or disable it',
    amount: {
      key: 'frames',
      quantity: 'whole',
      about: 'that it misses, the next ones',
      range: { least: 1, most: 1000000 },
      example: '1',
    },
  },
  'running-on': {
    target: 'joint',
    says: 'Whatever stops the drive, a fault of its own too, the joint first runs on at its speed',
    amount: {
      key: 'time',
      quantity: 'time',
      about: 'that it runs on',
      range: { above: '0 s', max: '10 s' },
      example: '200 ms',
    },
  },
  unguarded: {
    target: 'joint',
    says: 'The drive does not stop by itself when heartbeat, SYNC or setpoints cease',
  },
} as const satisfies Record<string, FaultKind>
