/**
 * What a bus's controller reports, followed: a bus that is lost stops the run, one that works badly is told with its
 * usual causes, one that comes back is told too, and nothing moves by it. Error counters that rise are told before they reach a level: each
 * frame of ours that fails adds 8, each that comes through takes 1 off (ISO 11898-1), so that a rise means more than one frame lost in nine.
 *
 * An error-passive controller stops the run unless the rig sets `bus.passive: warning`: the stop still goes out now; one
 * more run of errors, and the controller switches itself off and no stop goes out at all. It is also all that tells of
 * a plug that was pulled.
 */
import type { Nanos } from '../clock.js'
import type { BusState, BusTrouble, Figure, Finding, StopCategory } from '../files/event.js'
import { type BusEvent, BusHealth, isOut } from './bus-health.js'
import * as words from './bus-trouble-words.js'
import type { WatchSettings } from './settings.js'
import type { WatchContext } from './watch.js'

interface Followed {
  /** Since when nobody is heard or answers there; NaN = all is well. */
  outSince: Nanos
  /** The last trouble since the counters were low. */
  trouble: BusTrouble | 'none'
  /** Warnings and doubts that have been told, for good. */
  readonly told: Set<BusTrouble | 'back' | 'rise'>
  /** States and failures that have been told since the last start-up or the bus's last recovery. */
  readonly toldHard: Set<BusState | BusTrouble>
  errors: number
  outages: number
  transmit: number | null
  receive: number | null
  /** The least that the greater counter has been in the last while, and since when. */
  least: number
  leastAt: Nanos
}

/** ns over which a rise of the counters counts. */
const WHILE: Nanos = 10e9

/** Trouble that is an error frame. */
const ERROR_FRAMES: readonly (BusTrouble | 'none')[] = ['no acknowledgement', 'bus error']

export class BusTroubles {
  readonly #c: WatchContext<WatchSettings['bus']>
  readonly #health: BusHealth
  readonly #buses: Followed[]

  constructor(context: WatchContext<WatchSettings['bus']>) {
    this.#c = context
    this.#health = new BusHealth(context.rig)
    this.#buses = context.rig.buses.map(() => ({
      outSince: Number.NaN,
      trouble: 'none',
      told: new Set(),
      toldHard: new Set(),
      errors: 0,
      outages: 0,
      transmit: null,
      receive: null,
      least: 0,
      leastAt: 0,
    }))
  }

  /** @returns the bus's index; -1: a bus that the rig does not have */
  see(e: BusEvent): number {
    const b = this.#c.rig.buses.findIndex((bus) => bus.name === e.place)
    if (b < 0) return b
    const before = this.#health.state(b)
    this.#health.see(e)
    const bus = this.#buses[b]!
    bus.transmit = greater(bus.transmit, e.transmitErrors)
    bus.receive = greater(bus.receive, e.receiveErrors)
    if (ERROR_FRAMES.includes(e.trouble)) bus.errors++
    this.#rise(bus, e)
    if (e.trouble !== 'none') {
      bus.trouble = e.trouble
      this.#trouble(bus, e.trouble, e)
    }
    if (e.state !== before) this.#entered(bus, e)
    return b
  }

  isFailing(b: number): boolean {
    return this.#health.isFailing(b)
  }

  /** A start-up begins: what is still wrong then is told anew. */
  restart(): void {
    for (const bus of this.#buses) bus.toldHard.clear()
  }

  figures(b: number): Figure[] {
    const { errors, outages, transmit, receive } = this.#buses[b]!
    const place = this.#c.rig.buses[b]!.name
    const count = (name: string, value: number, limit: number | null): Figure => {
      return { place, name, value, unit: 'count', limit }
    }
    return [
      count('error frames reported', errors, null),
      count('times lost', outages, 0),
      ...(transmit === null ? [] : [count('transmit errors, greatest', transmit, words.PASSIVE)]),
      ...(receive === null ? [] : [count('receive errors, greatest', receive, words.PASSIVE)]),
    ]
  }

  #trouble(bus: Followed, trouble: BusTrouble, e: BusEvent): void {
    const found = words.TROUBLES[trouble]
    if (!found) return
    const hard = found.severity === 'failure'
    const told = hard ? bus.toldHard : bus.told
    if (told.has(trouble)) return
    told.add(trouble)
    this.#report(e, found, hard ? this.#c.rig.stop.category : null)
  }

  #entered(bus: Followed, e: BusEvent): void {
    const { state, t } = e
    const out = isOut(state) || (state === 'passive' && bus.trouble === 'no acknowledgement')
    const wasOut = !Number.isNaN(bus.outSince)
    if (out && !wasOut) {
      bus.outages++
      bus.outSince = t
    } else if (!out && wasOut) this.#back(bus, e)
    if (state === 'active') bus.trouble = 'none'
    if (state === 'active' || bus.toldHard.has(state)) return
    bus.toldHard.add(state)
    const { rig, settings } = this.#c
    if (state === 'warning') {
      // Whoever has been told of the trouble itself need not be told of its count.
      if (bus.trouble === 'none') this.#report(e, words.warned(e), null)
    } else if (state === 'passive') {
      const severity = settings.passive
      const stop = severity === 'failure' ? rig.stop.category : null
      this.#report(e, { ...words.passive(e, bus.trouble === 'no acknowledgement'), severity }, stop)
    } else this.#report(e, words.LOST[state], rig.stop.category)
  }

  #rise(bus: Followed, e: BusEvent): void {
    if (e.transmitErrors === null && e.receiveErrors === null) return
    const count = Math.max(e.transmitErrors ?? 0, e.receiveErrors ?? 0)
    if (count <= bus.least || e.t - bus.leastAt > WHILE) {
      bus.least = count
      bus.leastAt = e.t
    }
    const { rise } = this.#c.settings
    const risen = count - bus.least
    // From the warning level on the level itself is told.
    if (e.state !== 'active' || risen < rise || bus.told.has('rise')) return
    bus.told.add('rise')
    this.#report(e, words.risen(risen, rise), null)
  }

  /** Once a run in words; the figure counts them all. */
  #back(bus: Followed, e: BusEvent): void {
    const away = (e.t - bus.outSince) / 1e9
    bus.outSince = Number.NaN
    bus.toldHard.clear()
    if (bus.told.has('back')) return
    bus.told.add('back')
    this.#report(e, words.back(away), null)
  }

  #report({ place, t }: BusEvent, words: Words, stop: StopCategory | null): void {
    this.#c.report({ ...words, place, t, stop })
  }
}

type Words = Omit<Finding, 'watch' | 'place' | 't' | 'stop'>

function greater(most: number | null, value: number | null): number | null {
  return value === null ? most : Math.max(most ?? 0, value)
}
