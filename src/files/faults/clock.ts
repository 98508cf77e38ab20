/** What can go wrong with time. */
import type { FaultKind } from './kind.js'

export const CLOCK_FAULTS = {
  stall: {
    target: 'clock',
    says: 'The loop of the harness stands still once; what happens meanwhile on the buses happens',
    amount: {
      key: 'time',
      quantity: 'time',
      about: 'that it stands still',
      range: { above: '0 s', max: '10 s' },
      example: '20 ms',
    },
    forGood: true,
  },
  uneven: {
    target: 'clock',
    says: 'Each tick of the loop comes late by up to so much, evenly distributed',
    amount: {
      key: 'delay',
      quantity: 'time',
      about: 'by which a tick is late at most',
      range: { above: '0 s', max: '1 s' },
      example: '3 ms',
    },
  },
  'wall-step': {
    target: 'clock',
    says: 'The clock on the wall is set: nothing but provenance.json knows it',
    amount: {
      key: 'time',
      quantity: 'time',
      about: 'by which it is set forward',
      range: { min: '-1440 min', max: '1440 min' },
      example: '60 min',
    },
  },
} as const satisfies Record<string, FaultKind>
