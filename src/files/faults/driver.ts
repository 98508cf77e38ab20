/** What can go wrong between the harness and the driver. */
import type { FaultKind } from './kind.js'

export const DRIVER_FAULTS = {
  'commands-lost': {
    target: 'driver',
    says: 'No new command comes to the driver: the last one stays in force',
  },
  'commands-late': {
    target: 'driver',
    says: 'Each command comes to the driver late',
    amount: {
      key: 'delay',
      quantity: 'time',
      about: 'by which it is late',
      range: { above: '0 s', max: '60 s' },
      example: '500 ms',
    },
  },
  'setpoints-stale': { target: 'driver', says: 'The setpoints of the driver stay the last ones' },
  'setpoints-late': {
    target: 'driver',
    says: 'The setpoints of the driver come late',
    amount: {
      key: 'delay',
      quantity: 'time',
      about: 'by which they are late',
      range: { above: '0 s', max: '10 s' },
      example: '100 ms',
    },
  },
  'no-number': { target: 'driver', says: 'The first setpoint of each cycle is no number' },
} as const satisfies Record<string, FaultKind>
