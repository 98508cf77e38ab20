/** Faults of what a joint's encoder reads. Where the reading closes the drive's loop, the joint moves with it. */
import type { FaultKind } from './kind.js'

export const ENCODER_FAULTS = {
  frozen: { target: 'joint', says: 'The drive goes on sending the same position' },
  offset: {
    target: 'joint',
    says: 'The encoder jumps; it closes the loop of the drive, which moves the joint the other way',
    amount: {
      key: 'angle',
      quantity: 'angle',
      about: 'by which it jumps',
      range: { min: '-360 deg', max: '360 deg' },
      example: '5 deg',
    },
  },
  'zero-lost': {
    target: 'joint',
    says: 'From its next reset or start on the encoder reads beside the truth',
    amount: {
      key: 'angle',
      quantity: 'angle',
      about: 'by which it then reads beside the truth',
      range: { min: '-360 deg', max: '360 deg' },
      example: '5 deg',
    },
  },
  noisy: {
    target: 'joint',
    says: 'The position that the drive sends has noise, normally distributed',
    amount: {
      key: 'angle',
      quantity: 'angle',
      about: 'standard deviation',
      range: { above: '0 deg', max: '90 deg' },
      example: '0.2 deg',
    },
  },
  drifting: {
    target: 'joint',
    says: 'The scale of the encoder drifts off for 5 s, about the zero of the joint, and stays there',
    amount: {
      key: 'share',
      quantity: 'share',
      about: 'by which it is off in the end',
      range: { min: '-90 %', max: '100 %' },
      example: '5 %',
    },
  },
  mirrored: {
    target: 'joint',
    says: 'The joint turns the other way than its drive believes, from where it is',
  },
  wrapped: {
    target: 'joint',
    says: 'The position that the drive sends counts only so far and begins anew, from where it is',
    amount: {
      key: 'angle',
      quantity: 'angle',
      about: 'after which it begins anew',
      range: { min: '1 deg', max: '360 deg' },
      example: '360 deg',
    },
  },
  'sign-extended': {
    target: 'joint',
    says: 'The position that the drive sends keeps its lower bits, of which the highest is taken for the sign',
    amount: {
      key: 'bits',
      quantity: 'whole',
      about: 'that it keeps',
      range: { least: 8, most: 31 },
      example: '16',
    },
  },
  'stuck-bit': {
    target: 'joint',
    says: 'One bit of the position that the drive sends is always set',
    amount: {
      key: 'bit',
      quantity: 'whole',
      about: 'its number, from the lowest, 0',
      range: { least: 0, most: 30 },
      example: '12',
    },
  },
  echo: { target: 'joint', says: 'The drive sends the setpoint that it was given as its position' },
  swapped: {
    target: 'joint',
    says: 'Two drives are at the place of each other: each moves and reads the joint of the other',
    pair: true,
  },
} as const satisfies Record<string, FaultKind>
