/** Stops the arms of a rig by opening its buses: for when no guardian answers. */
import type { Bus } from '../bus/contract.js'
import { openBus } from '../bus/open.js'
import { nanos, type RealTime } from '../clock.js'
import { DrystrokeError } from '../errors.js'
import type { Rig } from '../files/rig.js'
import { Halt, type Halted } from './halt.js'
import { nowhere } from './nowhere.js'

export interface DirectStop {
  readonly drives: readonly Halted[]
  /** Buses that could not be opened, and why. */
  readonly unreachable: readonly { readonly bus: string; readonly says: string }[]
}

/** A bus that cannot be opened keeps none of the others waiting. @throws DrystrokeError of ours that is no `bus-access` */
export async function stopDirectly(rig: Rig, clock: RealTime): Promise<DirectStop> {
  const unreachable: { bus: string; says: string }[] = []
  const opened = await Promise.all(
    rig.buses.map(async (settings) => {
      try {
        return await openBus(settings, clock)
      } catch (error) {
        if (!(error instanceof DrystrokeError) || error.code !== 'bus-access') throw error
        unreachable.push({ bus: settings.name, says: error.message })
        return nowhere(settings.name, 'no such interface')
      }
    }),
  )
  const reachable = opened.some((bus) => bus.state !== 'gone')
  const drives = reachable ? await haltNow(rig, opened, clock) : []
  for (const bus of opened) bus.close()
  return { drives, unreachable }
}

/** The stop in real time, to its end. Nobody is fed: another sender of SYNC may be on the bus. */
function haltNow(rig: Rig, buses: readonly Bus[], clock: RealTime): Promise<Halted[]> {
  const halt = new Halt(rig, buses, { feed: false })
  const period = nanos(rig.control.period)
  halt.begin(clock.now())
  return new Promise((resolve) => {
    const tick = (): void => {
      const t = clock.now()
      halt.tick(t)
      if (halt.stage === 'over') resolve(halt.drives(t))
      else clock.at(t + period, tick)
    }
    tick()
  })
}
