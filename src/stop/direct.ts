/**
 * Stops the arms of a rig by opening its buses: for when no guardian answers. Each bus has a stop of its own, which begins as
 * soon as that bus is open and is not touched by what becomes of the others.
 */
import type { Bus } from '../bus/contract.js'
import { openBus } from '../bus/open.js'
import { later, nanos, type RealTime } from '../clock.js'
import type { BusSettings, Rig } from '../files/rig.js'
import { Halt, type Halted } from './halt.js'

/** ms after which a bus that is still not open is left out of the account. */
const OPEN_WITHIN = 10_000
/** Errors of ours in one stop after which it is given up. */
const MOST_DEFECTS = 1000

export interface DirectStop {
  /** Of all joints on the buses that were asked for, in rig order; those of a bus that could not be opened have said nothing. */
  readonly drives: readonly Halted[]
  /** Buses that could not be opened, or on which the stop itself failed, and why. */
  readonly unreachable: readonly { readonly bus: string; readonly says: string }[]
}

/** How a bus is opened; a test hands in its own. */
type Open = (settings: BusSettings, clock: RealTime) => Promise<Bus>

/** @param buses indices of those to be stopped. Never rejects: what goes wrong with a bus is told of that bus. */
export async function stopDirectly(
  rig: Rig,
  clock: RealTime,
  buses: readonly number[] = rig.buses.map((bus) => bus.index),
  open: Open = openBus,
): Promise<DirectStop> {
  const unreachable: { bus: string; says: string }[] = []
  const stopped = await Promise.all(
    buses.map(async (index): Promise<readonly Halted[] | null> => {
      try {
        return await haltOn(rig, index, clock, open)
      } catch (error) {
        const says = error instanceof Error ? error.message : String(error)
        unreachable.push({ bus: rig.buses[index]!.name, says })
        return null
      }
    }),
  )
  const heard = new Map(stopped.flatMap((drives) => drives ?? []).map((d) => [d.joint, d]))
  const asked = rig.joints.filter((j) => buses.includes(j.wire.bus))
  return { drives: asked.map((j) => heard.get(j.index) ?? unheard(j.index, j.name)), unreachable }
}

/** Of one bus, from its opening to the end of the stop. */
async function haltOn(rig: Rig, index: number, clock: RealTime, open: Open): Promise<Halted[]> {
  const bus = await inTime(open(rig.buses[index]!, clock), rig.buses[index]!.name)
  try {
    return await haltNow(rig, index, bus, clock)
  } finally {
    bus.close()
  }
}

function inTime(opening: Promise<Bus>, name: string): Promise<Bus> {
  return new Promise((resolve, reject) => {
    let waiting = true
    const forget = later(OPEN_WITHIN, () => {
      waiting = false
      reject(
        new Error(
          `bus ${name}: not open after ${OPEN_WITHIN / 1000} s; look at its adapter and at its wiring`,
        ),
      )
    })
    opening.then((bus) => {
      forget()
      if (waiting) resolve(bus)
      else bus.close()
    }, reject)
  })
}

/** The stop in real time, to its end. Nobody is fed: another sender of SYNC may be on the bus. */
function haltNow(rig: Rig, index: number, bus: Bus, clock: RealTime): Promise<Halted[]> {
  const halt = new Halt(
    rig,
    rig.buses.map((b) => (b.index === index ? bus : null)),
    { feed: false },
  )
  const period = nanos(rig.control.period)
  halt.begin(clock.now())
  return new Promise((resolve, reject) => {
    let defects = 0
    const tick = (): void => {
      const t = clock.now()
      try {
        halt.tick(t)
      } catch (error) {
        // One wrong tick must not be the last, nor take the stop of another bus with it.
        if (++defects > MOST_DEFECTS) {
          reject(error)
          return
        }
      }
      if (halt.stage === 'over') resolve(halt.drives(t))
      else clock.at(t + period, tick)
    }
    tick()
  })
}

function unheard(joint: number, place: string): Halted {
  return { joint, place, state: 'unknown', off: false, since: null, sag: null }
}
