/**
 * The guardian's own ways to the buses. Interfaces are opened beforehand; lines that it inherited are held and left alone
 * until the bench process is gone, because what one process reads from a line the other does not get.
 */
import type { Bus } from '../../bus/contract.js'
import { openBus, prepareTakeover } from '../../bus/open.js'
import type { Clock } from '../../clock.js'
import type { BusSettings, Rig } from '../../files/rig.js'
import { nowhere } from '../nowhere.js'
import type { Hold } from './messages.js'

export interface OwnEnds {
  /** The buses, one a bus of the rig. A line that cannot be taken over is one that takes no frame: the others still work. */
  take(): readonly Bus[]
}

/** @throws DrystrokeError `bus-access` when an interface cannot be opened */
export async function openOwnEnds(rig: Rig, holds: readonly Hold[], clock: Clock): Promise<OwnEnds> {
  const ends = await Promise.all(rig.buses.map((bus, i) => openOwnEnd(bus, holds[i]!, clock)))
  return { take: () => ends.map((end) => end()) }
}

async function openOwnEnd(settings: BusSettings, hold: Hold, clock: Clock): Promise<() => Bus> {
  if (hold.by === 'nothing') return () => nowhere(settings.name, 'sent')
  if (hold.by === 'interface') {
    const bus = await openBus(settings, clock)
    // Until then it is no business of the guardian's, and hearing every frame above the loop's priority takes the loop's time.
    bus.only([])
    return () => {
      bus.only(null)
      return bus
    }
  }
  const take = await prepareTakeover(settings, hold.descriptor, clock)
  return () => {
    try {
      return take()
    } catch {
      return nowhere(settings.name, 'no such interface')
    }
  }
}
