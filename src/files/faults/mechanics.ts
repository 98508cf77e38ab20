/** Faults of what moves: bearings, gears, brakes. */
import type { FaultKind } from './kind.js'

export const MECHANICS_FAULTS = {
  jammed: { target: 'joint', says: 'The joint cannot move' },
  slipping: {
    target: 'joint',
    says: 'The joint slips: motor and encoder go the whole way, the joint only a part of it',
    amount: {
      key: 'share',
      quantity: 'share',
      about: 'of the way that is lost',
      range: { above: '0 %', max: '100 %' },
      example: '20 %',
    },
  },
  backlash: {
    target: 'joint',
    says: 'The gear has play; the encoder is behind it, at the joint',
    amount: {
      key: 'angle',
      quantity: 'angle',
      about: 'from one flank to the other',
      range: { above: '0 deg', max: '90 deg' },
      example: '1 deg',
    },
  },
  trembling: {
    target: 'joint',
    says: 'The joint trembles at 17 Hz, and its encoder sees it',
    amount: {
      key: 'angle',
      quantity: 'angle',
      about: 'to either side',
      range: { above: '0 deg', max: '45 deg' },
      example: '0.5 deg',
    },
  },
  stiff: {
    target: 'joint',
    says: 'The joint rubs',
    amount: {
      key: 'share',
      quantity: 'share',
      about: "of the joint's torque limit that friction takes",
      range: { above: '0 %', max: '95 %' },
      example: '30 %',
    },
  },
  brakeless: { target: 'joint', says: 'The brake does not hold the joint when its power is taken away' },
  kicking: {
    target: 'joint',
    says: 'When its power is taken away the joint springs off within 100 ms, whatever brakes there are',
    amount: {
      key: 'angle',
      quantity: 'angle',
      about: 'by which it springs',
      range: { min: '-90 deg', max: '90 deg' },
      example: '3 deg',
    },
  },
  pushed: {
    target: 'joint',
    says: 'Something moves the joint whenever it has no power, whatever brakes there are',
    amount: {
      key: 'speed',
      quantity: 'angular speed',
      about: 'at which it is moved',
      range: { min: '-90 deg/s', max: '90 deg/s' },
      example: '3 deg/s',
    },
  },
} as const satisfies Record<string, FaultKind>
