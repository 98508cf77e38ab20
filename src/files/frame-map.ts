/**
 * A frame map, resolved: the frames that arms of their own language speak, bit by bit. One map serves every joint that
 * names it; the joint's node makes the identifiers. `frame-map-schema.ts` says how it is written in a rig.
 */

import type { Reported } from './reports.js'

/** What a signal stands for. `other` is laid out so that nothing else is, and may confirm a stop. */
export type SignalKind =
  | 'position'
  | 'speed'
  | 'torque'
  | Reported
  | 'state'
  | 'other'
  | 'constant'
  | 'counter'
  | 'checksum'

/**
 * Where a whole number stands in a frame. Its lowest bit is `bit` (0 = least significant) of `byte` (0 = sent first); it
 * grows through that byte and on into the next ones (little: lowest byte first) or the ones before (big: highest byte first).
 */
export interface BitPlace {
  readonly byte: number
  readonly bit: number
  /** bits, 1 to 53 */
  readonly length: number
  readonly order: 'little' | 'big'
  /** Two's complement. */
  readonly signed: boolean
}

export interface MapSignal extends BitPlace {
  readonly is: SignalKind
  /** By which `confirmsStop` names it: of `other` its own, else the same as `is`. */
  readonly name: string
  /** Quantity = scale x number + offset, in rad, rad/s, N m, degC, V or A; 1 and 0 where it is no quantity. */
  readonly scale: number
  readonly offset: number
  /** Of a constant. */
  readonly value: number
  /** Of a checksum. */
  readonly sum: ChecksumRule | null
}

/** Over all bytes of the frame but its own. */
export interface ChecksumRule {
  readonly kind: 'xor' | 'sum' | 'crc8'
  /** Of crc8, highest power first and x^8 left out. */
  readonly polynomial: number
  /** The value before the first byte. */
  readonly start: number
  /** The result is XORed with this. */
  readonly final: number
}

export interface MapFrame {
  /** Identifier = base + step x node; step 0: one frame for all joints of the bus. */
  readonly base: number
  readonly step: number
  readonly bytes: number
  readonly signals: readonly MapSignal[]
}

/** Frames of the host's that are commands. */
export const MAP_COMMANDS = ['enable', 'stop', 'disable', 'reset'] as const
export type MapCommand = (typeof MAP_COMMANDS)[number]

export interface FrameMap {
  readonly name: string
  readonly about: string
  /** Asks for feedback once a control period; null: feedback comes by itself. */
  readonly request: MapFrame | null
  /** s, period of feedback that comes by itself; null: it comes when asked for */
  readonly every: number | null
  readonly setpoint: MapFrame
  readonly feedback: MapFrame
  /** `disable` may be missing: the arm then takes its torque away by itself after a stop. */
  readonly commands: Readonly<Record<Exclude<MapCommand, 'disable'>, MapFrame>> & {
    readonly disable: MapFrame | null
  }
  /** Numbers of the state signal: no torque; enabled; in fault. Any other number is an unknown state. */
  readonly states: {
    readonly off: readonly number[]
    readonly enabled: readonly number[]
    readonly fault: readonly number[]
  }
  /** By what the arm confirms that it obeys a stop; null: it does not, and must not be moved for real. */
  readonly confirmsStop: { readonly signal: string; readonly values: readonly number[] } | null
}

/** The frames of a map with what each is for. */
export function framesOf(
  map: FrameMap,
): { use: MapCommand | 'request' | 'setpoint' | 'feedback'; frame: MapFrame }[] {
  const { request, setpoint, feedback, commands } = map
  return [
    ...(request ? [{ use: 'request' as const, frame: request }] : []),
    { use: 'setpoint' as const, frame: setpoint },
    { use: 'feedback' as const, frame: feedback },
    ...MAP_COMMANDS.flatMap((use) => {
      const frame = commands[use]
      return frame ? [{ use, frame }] : []
    }),
  ]
}

export const identifierOf = (frame: MapFrame, node: number): number => frame.base + frame.step * node

/** The bits of a frame that a number takes, as byte x 8 + bit; beyond the frame where the place is. */
export function bitsOf({ byte, bit, length, order }: BitPlace): number[] {
  const towards = order === 'little' ? 1 : -1
  return Array.from({ length }, (_, i) => (byte + towards * ((bit + i) >> 3)) * 8 + ((bit + i) & 7))
}

/** Least and greatest number that a place can hold. */
export function rangeOf({ length, signed }: Pick<BitPlace, 'length' | 'signed'>): readonly [number, number] {
  return signed ? [-(2 ** (length - 1)), 2 ** (length - 1) - 1] : [0, 2 ** length - 1]
}
