/**
 * What a bus and the serial line before it can carry, and what a rig asks of them. Text takes about three times the bits of the bus behind it, so it is
 * often the line and not the bus that is too slow; then frames wait, and a stop behind them.
 */
import { identifierOf, type MapFrame } from '../files/frame-map.js'
import { type FramesWire, isCia402, type Rig } from '../files/rig.js'
import { worstBits } from '../wire/bits.js'
import { slcanLength } from '../wire/slcan.js'

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

/** In each control period SYNC, setpoints and feedback, and the frames of a stop, which must fit in beside them. */
function trafficOf(rig: Rig, bus: number): { toArms: Traffic[]; fromArms: Traffic[] } {
  const joints = rig.joints.filter((joint) => joint.wire.bus === bus)
  const drives = joints.filter(isCia402).length
  const { rate } = rig.control
  // Where one identifier is shared, one frame stops all drives.
  const stops = rig.buses[bus]!.controlword === null ? drives : Math.min(drives, 1)
  const maps = mapTraffic(rig, bus)
  return {
    toArms: [
      // No SYNC and no heartbeat go to arms that speak frames of their own.
      ...(drives > 0 ? [{ data: 0, perSecond: rate }] : []),
      { data: 4, perSecond: rate * drives },
      { data: 2, perSecond: rate * stops },
      ...(drives > 0 ? [{ data: 1, perSecond: 1 / rig.link.ourHeartbeat }] : []),
      ...maps.toArms,
    ],
    fromArms: [
      { data: 8, perSecond: rate * drives },
      { data: 1, perSecond: drives / rig.link.driveHeartbeat },
      ...maps.fromArms,
    ],
  }
}

/** Arms that speak frames of their own, with the lengths of their maps; what goes to all is one frame. */
function mapTraffic(rig: Rig, bus: number): { toArms: Traffic[]; fromArms: Traffic[] } {
  const { rate } = rig.control
  const wires = rig.joints
    .map((joint) => joint.wire)
    .filter((wire): wire is FramesWire => wire.protocol === 'frames' && wire.bus === bus)
  const toArms = new Map<number, Traffic>()
  const sends = (frame: MapFrame | null, node: number): void => {
    if (frame === null) return
    toArms.set(identifierOf(frame, node), { data: frame.bytes, perSecond: rate })
  }
  for (const { map, node } of wires)
    for (const frame of [map.request, map.setpoint, map.commands.stop]) sends(frame, node)
  return {
    toArms: [...toArms.values()],
    // Asked for, or by itself: once a control period.
    fromArms: wires.map(({ map }) => ({ data: map.feedback.bytes, perSecond: rate })),
  }
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
