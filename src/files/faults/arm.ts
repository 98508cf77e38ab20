/** Faults of a whole arm. */
import type { FaultKind } from './kind.js'

export const ARM_FAULTS = {
  dead: {
    target: 'arm',
    says: 'No drive of the arm has power; when it is over all boot, their set-up is lost',
  },
  'supply-sagging': {
    target: 'arm',
    says: 'The supply of the arm sags: the voltage told, torque and speed of its drives; below 60 % they go into fault with code 3220h',
    amount: {
      key: 'share',
      quantity: 'share',
      about: 'that is left of the supply voltage',
      range: { above: '0 %', max: '100 %' },
      example: '80 %',
    },
  },
  loose: {
    target: 'arm',
    says: 'The mount of the arm is loose: all its joints tremble as one at 11 Hz, and their encoders see it',
    amount: {
      key: 'angle',
      quantity: 'angle',
      about: 'to either side, at each joint',
      range: { above: '0 deg', max: '45 deg' },
      example: '0.3 deg',
    },
  },
  'swapped-sides': {
    target: 'arm',
    says: "The arm's drives are at the places of the arm on the other side, joint by joint, and those at its own",
  },
} as const satisfies Record<string, FaultKind>
