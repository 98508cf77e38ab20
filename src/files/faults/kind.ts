/** What every entry of the catalogue of faults says of itself: scenario files, stand-in orders, README and reports are made of it. */

import type { Quantity } from '../../units.js'
import type { Range } from '../quantity.js'

/** Where a fault is: what a scenario must name for it. The driver and the clock are there once, and are not named. */
export type FaultTarget = 'joint' | 'arm' | 'bus' | 'driver' | 'clock'

/** How bad a fault is: one number. */
export interface Amount {
  /** Its key in a scenario file. */
  readonly key: 'angle' | 'share' | 'delay' | 'time' | 'every' | 'rate' | 'speed' | 'frames' | 'bits' | 'bit'
  /** `whole`: a bare whole number. */
  readonly quantity: Quantity | 'whole'
  /** One phrase. */
  readonly about: string
  readonly range: Range | { readonly least: number; readonly most: number }
  /** As it is typed to a stand-in. */
  readonly example: string
}

export interface FaultKind {
  readonly target: FaultTarget
  /** One sentence without a full stop: what it does. */
  readonly says: string
  readonly amount?: Amount
  /** It never ends: `lasts` means nothing. */
  readonly forGood?: true
  /** It takes another joint of the rig, which the file names with the key `with`. */
  readonly pair?: true
  /** Only drives that speak this can have it. */
  readonly only?: 'cia402'
}
