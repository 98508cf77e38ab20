/**
 * What a bus and the serial line before it can carry, and what a rig asks of them. Text takes about three times the bits of the bus behind it, so it is
 * often the line and not the bus that is too slow; then frames wait, and a stop behind them.
 */
import type { Rig } from '../files/rig.js'
import { worstBits } from '../wire/bits.js'
import { slcanLength } from '../wire/slcan.js'
import { type BusMessage, messagesOf } from './messages.js'

/** Start, eight bits, stop. */
export const BITS_A_CHARACTER = 10
/** A line is full when what is asked of it, and this much more, is all it carries. */
const SPARE = 0.5

/** One direction of a line. */
export interface LineLoad {
  /** Mean, the frames of a stop within one control period included. */
  readonly framesPerSecond: number
  /** bit/s on the line for them */
  readonly needed: number
  /** The same with half as much again to spare: what the line has to be able to carry. */
  readonly wanted: number
  /** bit/s that the line carries each way */
  readonly available: number
}

export interface LineCapacity {
  readonly bus: string
  readonly device: string
  readonly toArms: LineLoad
  readonly fromArms: LineLoad
  readonly enough: boolean
}

/** Both directions share a bus. */
export interface BusCapacity {
  readonly bus: string
  /** frames/s, mean, those of a stop within one control period included */
  readonly toArms: number
  /** frames/s */
  readonly fromArms: number
  /** bit/s on the bus for all of them, each with the most bits that a frame of its length can take */
  readonly needed: number
  /** bit/s of the bus */
  readonly available: number
  /** Of the serial port before it, where there is one. */
  readonly line: LineCapacity | null
}

/** Frames of one kind that go over the line. */
interface Traffic {
  readonly data: number
  readonly perSecond: number
}

/**
 * Frames a second that a serial line carries each way.
 * @param serialRate bit/s
 * @param data bytes of each frame; standard identifiers
 */
export function framesPerSecond(serialRate: number, data: number): number {
  return serialRate / (BITS_A_CHARACTER * characters(data))
}

/** Of each bus of the rig that is behind a serial port. */
export function lineCapacities(rig: Rig): LineCapacity[] {
  return rig.buses.flatMap((bus): LineCapacity[] => {
    if (bus.address.kind !== 'slcan' || !('device' in bus.address)) return []
    const { toArms, fromArms } = trafficOf(rig, bus.index)
    const out = load(toArms, bus.serialRate)
    const back = load(fromArms, bus.serialRate)
    const enough = out.wanted <= out.available && back.wanted <= back.available
    return [{ bus: bus.name, device: bus.address.device, toArms: out, fromArms: back, enough }]
  })
}

/** Of each bus of the rig, in order. */
export function busCapacities(rig: Rig): BusCapacity[] {
  const lines = lineCapacities(rig)
  return rig.buses.map((bus) => {
    const { toArms, fromArms } = trafficOf(rig, bus.index)
    return {
      bus: bus.name,
      toArms: rateOf(toArms),
      fromArms: rateOf(fromArms),
      needed: bitsOf([...toArms, ...fromArms], (data) => worstBits(data, false)),
      available: bus.bitrate,
      line: lines.find((line) => line.bus === bus.name) ?? null,
    }
  })
}

/**
 * s that the serial line before a bus takes each way for one frame of every message: as long as a frame may wait on it, when all come
 * at once and the line carries them before they come again. 0: there is no such line, or nobody knows its rate.
 */
export function lineTime(rig: Rig, bus: number): { readonly toArms: number; readonly fromArms: number } {
  const { address, serialRate } = rig.buses[bus]!
  if (address.kind !== 'slcan' || !('device' in address)) return { toArms: 0, fromArms: 0 }
  const all = messagesOf(rig, bus)
  const told = (by: BusMessage['from']): number =>
    all
      .filter(({ from }) => from === by)
      .reduce((sum, { bytes }) => sum + (characters(bytes) * BITS_A_CHARACTER) / serialRate, 0)
  return { toArms: told('host'), fromArms: told('arms') }
}

/** In each control period setpoints and feedback, and the frames of a stop, which must fit in beside them; emergencies are rare. */
function trafficOf(rig: Rig, bus: number): { toArms: Traffic[]; fromArms: Traffic[] } {
  const usual = messagesOf(rig, bus).filter(({ use }) => use !== 'emergency')
  const sent = (by: BusMessage['from']): Traffic[] =>
    usual
      .filter(({ from }) => from === by)
      .map(({ bytes, period }) => ({ data: bytes, perSecond: 1 / period }))
  return { toArms: sent('host'), fromArms: sent('arms') }
}

function load(traffic: readonly Traffic[], available: number): LineLoad {
  const needed = bitsOf(traffic, (data) => characters(data) * BITS_A_CHARACTER)
  return { framesPerSecond: rateOf(traffic), needed, wanted: needed * (1 + SPARE), available }
}

function rateOf(traffic: readonly Traffic[]): number {
  return traffic.reduce((sum, { perSecond }) => sum + perSecond, 0)
}

/** bit/s @param bits of a frame with so many bytes of data */
function bitsOf(traffic: readonly Traffic[], bits: (data: number) => number): number {
  return traffic.reduce((sum, { data, perSecond }) => sum + perSecond * bits(data), 0)
}

function characters(data: number): number {
  return slcanLength({ id: 0, extended: false, remote: false, data: new Uint8Array(data) })
}
