/**
 * What a serial line can carry, and what a rig asks of it. Text takes about three times the bits of the bus behind it, so it is
 * often the line and not the bus that is too slow; then frames wait, and a stop behind them.
 */
import { isCia402, type Rig } from '../files/rig.js'
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

/** In each control period SYNC, setpoints and feedback, and the frames of a stop, which must fit in beside them. */
function trafficOf(rig: Rig, bus: number): { toArms: Traffic[]; fromArms: Traffic[] } {
  const joints = rig.joints.filter((joint) => joint.wire.bus === bus)
  const drives = joints.filter(isCia402).length
  const { rate } = rig.control
  // Where one identifier is shared, one frame stops all drives.
  const stops = rig.buses[bus]!.controlword === null ? drives : Math.min(drives, 1)
  const others = joints.length - drives
  return {
    toArms: [
      { data: 0, perSecond: rate },
      { data: 4, perSecond: rate * drives },
      { data: 2, perSecond: rate * stops },
      { data: 1, perSecond: 1 / rig.link.ourHeartbeat },
      // Arms that speak frames of their own: the longest there are, a setpoint and a stop each.
      { data: 8, perSecond: 2 * rate * others },
    ],
    fromArms: [
      { data: 8, perSecond: rate * (drives + others) },
      { data: 1, perSecond: drives / rig.link.driveHeartbeat },
    ],
  }
}

function load(traffic: readonly Traffic[], available: number): LineLoad {
  const needed = traffic.reduce(
    (sum, { data, perSecond }) => sum + perSecond * characters(data) * BITS_A_CHARACTER,
    0,
  )
  return {
    framesPerSecond: traffic.reduce((sum, { perSecond }) => sum + perSecond, 0),
    needed,
    wanted: needed * (1 + SPARE),
    available,
  }
}

function characters(data: number): number {
  return slcanLength({ id: 0, extended: false, remote: false, data: new Uint8Array(data) })
}
