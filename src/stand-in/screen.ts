/** What a stand-in shows: which buses are served, who is there, and how each joint stands by its own truth. */
import { showBusAddress } from '../files/bus-address.js'
import type { Rig } from '../files/rig.js'
import { showQuantity } from '../units.js'
import type { StandIn } from './serve.js'

/** Lines for a screen of at least 60 columns. @param states of the buses, in order */
export function standInLines(
  rig: Rig,
  standIn: StandIn,
  states: readonly string[],
  columns: number,
): string[] {
  const lines: string[] = []
  rig.buses.forEach((bus, b) => {
    const { in: heard, out } = standIn.frames[b]!
    const there = states[b] === 'active' ? 'connected' : 'nobody is connected'
    lines.push(`${bus.name}  ${showBusAddress(bus.address)}  ${there}  ${heard} frames in, ${out} out`)
    for (const joint of rig.joints) {
      if (joint.wire.bus !== b) continue
      const moving = standIn.moving(joint.index) ? 'moves' : 'rests'
      const at = showQuantity(standIn.positions[joint.index]!, 'rad')
      lines.push(
        `  ${joint.name.padEnd(22)}${at.padStart(12)}  ${moving}  ${standIn.states[joint.index] ?? 'not set up'}`,
      )
    }
  })
  lines.push(`faults: ${standIn.faults.join(', ') || 'none'}`)
  return lines.map((line) => line.slice(0, columns - 1))
}
