/** How late each message of a rig can be: worst-case response times on its buses, serial lines before them included. */
import { NS_PER_S } from '../clock.js'
import type { Rig } from '../files/rig.js'
import { worstBits } from '../wire/bits.js'
import { responseTimes } from '../wire/response-time.js'
import { busCapacities, lineTime } from './capacity.js'
import { type BusMessage, type MessageUse, messagesOf } from './messages.js'

export interface MessageTime extends BusMessage {
  /**
   * s, at worst: from when it is handed over (an answer: from when what it answers is) until it is there. Infinity: the bus, or the
   * line before it, is given more than it carries.
   */
  readonly worst: number
  /** s: its period. What is sent in a control period must be there before the next one begins. */
  readonly deadline: number
}

export interface BusTimes {
  readonly bus: string
  /** Share of what the bus carries, worst-case frame lengths, those of a stop in each control period included. */
  readonly load: number
  /** Highest priority first. */
  readonly messages: readonly MessageTime[]
}

/**
 * The host's frames wait in one queue, first in, first out, as sockets and adapters have it; drives offer their strongest first. What
 * opens a cycle is its first frame: of its queue only a stop, which comes at any time, can be in front.
 */
const HOST = 'host'

/** Of each bus of the rig, in order. */
export function busTimes(rig: Rig): BusTimes[] {
  const capacities = busCapacities(rig)
  return rig.buses.map(({ index, name, bitrate }) => {
    const messages = messagesOf(rig, index)
    const line = lineTime(rig, index)
    const stops = messages.filter(({ use }) => use === 'controlword' || use === 'stop').map(nameOf)
    const found = responseTimes(
      messages.map((message) => {
        const { use, from, bytes, period, answers } = message
        return {
          name: nameOf(message),
          bits: worstBits(bytes, false),
          period: period * NS_PER_S,
          // What waits on the serial line comes to the bus so much later.
          jitter: from === 'host' ? line.toArms * NS_PER_S : 0,
          ...(from === 'host' ? { queue: HOST } : {}),
          ...(opens(use) ? { behind: stops } : {}),
          ...(answers === null ? {} : { after: answers }),
        }
      }),
      bitrate,
    )
    const { needed, available } = capacities[index]!
    return {
      bus: name,
      load: needed / available,
      messages: messages.map((message, i) => ({
        ...message,
        worst: found[i]!.worst / NS_PER_S + (message.from === 'arms' ? line.fromArms : 0),
        deadline: message.period,
      })),
    }
  })
}

const opens = (use: MessageUse): boolean => use === 'SYNC' || use === 'request'

/** There is one of what opens a cycle, to all or to each joint; all others are told apart by their identifiers. */
function nameOf({ use, id }: BusMessage): string {
  return opens(use) ? use : `${id}`
}
