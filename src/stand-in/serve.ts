/**
 * The simulated arms of a rig on buses that other processes speak on: the same plant as on the mock bus, in real time.
 *
 * Left out: bit timing and arbitration between the arms' own frames (on vcan and TCP there are none), and what the plant
 * leaves out.
 */
import type { Bus } from '../bus/contract.js'
import { type Nanos, nanos, type Scheduler } from '../clock.js'
import { faultPlace } from '../files/faults/catalogue.js'
import type { Rig } from '../files/rig.js'
import { Afloat } from '../plant/afloat.js'
import type { Plant } from '../plant/contract.js'
import { Hub } from '../plant/hub.js'
import { createPlant } from '../plant/plant.js'
import { Decoder } from '../wire/decoder.js'
import type { Frame } from '../wire/frame.js'
import type { ReportedState } from '../wire/observation.js'
import type { Order } from './orders.js'
import { shown } from './proof-frame.js'
import { type MotionChange, MotionTruth } from './truth.js'

/**
 * Part of a control period that arms may be late by. Late by d at speed v one position lies v d off, and a parabola fitted to nine positions
 * (T apart) takes that for an acceleration of 28 v d / (462 T^2): at half the speed limit of the demo's joints 0.3 T come to a quarter of
 * their acceleration limits, as much as noise of an encoder may.
 */
const LATE = 0.3
/** ns that standstills are collected for before they are told. */
const TOLD_AFTER = 50e6

export interface StandInParts {
  readonly rig: Rig
  readonly clock: Scheduler
  /** One a bus of the rig, on the arms' side. */
  readonly buses: readonly Bus[]
  readonly seed: number
  /** A joint began to move or came to rest, by its true position. */
  readonly onMotion?: (change: MotionChange) => void
  /** A joint's motor was given power or lost it, whatever its drive says; `t`: of the look that found it, one a control period. */
  readonly onPower?: (joint: number, on: boolean, t: Nanos) => void
  /**
   * Something that the arms were to do came more than half a control period late, so many times since it was told last; `longest` in ns.
   * Arms that are simulated in real time move unevenly then, which is nobody's doing but the machine's.
   */
  readonly onStandstill?: (times: number, longest: Nanos) => void
}

export class StandIn {
  /** rad, true positions at the last look */
  readonly positions: Float64Array
  /** What each joint's drive said last, undefined before its first feedback. */
  readonly states: readonly (ReportedState | undefined)[]
  /** Frames that came in and went out, by bus. */
  readonly frames: readonly { in: number; out: number }[]
  readonly #p: StandInParts
  readonly #hubs: readonly Hub[]
  #arms: { readonly plant: Plant; switchOff(): void }
  #truth: MotionTruth
  /** As it was told, by joint. */
  #powered: (boolean | undefined)[] = []
  readonly #faults = new Map<string, string>()
  /** Not told yet; `t`: of the last one. */
  #standstill = { times: 0, longest: 0, t: Number.NEGATIVE_INFINITY }
  #ended = false

  /** Powers the arms on. */
  constructor(parts: StandInParts) {
    this.#p = parts
    const { rig, clock, buses } = parts
    const states: (ReportedState | undefined)[] = rig.joints.map(() => undefined)
    this.states = states
    this.frames = buses.map(() => ({ in: 0, out: 0 }))
    this.positions = new Float64Array(rig.joints.length)
    this.#truth = new MotionTruth(rig)
    const decoder = new Decoder(rig, (o) => {
      if (o.kind === 'state') states[o.joint] = o.state
    })
    this.#hubs = buses.map((bus, i) => {
      const count = this.frames[i]!
      bus.onFrame(() => count.in++)
      const onSent = (frame: Frame): void => {
        count.out++
        decoder.see(i, frame, clock.now(), false)
      }
      return new Hub(bus, onSent, clock)
    })
    this.#arms = this.#switchOn()
    this.#look()
  }

  /** Faults that are on, as they were ordered. */
  get faults(): string[] {
    return [...this.#faults.values()]
  }

  order(order: Order): void {
    if (order.kind === 'quiet') this.#showAndBeQuiet(order.number)
    else if (order.kind === 'anew') this.#beginAnew()
    if (order.kind !== 'fault') return
    const { fault, on } = order
    this.#arms.plant.fault(fault, on)
    const name = `${fault.fault} ${faultPlace(fault, this.#p.rig)}`
    if (on) this.#faults.set(name, name)
    else this.#faults.delete(name)
  }

  moving(joint: number): boolean {
    return this.#truth.moving(joint)
  }

  /** The arms are looked at no more; whoever opened the buses closes them. */
  end(): void {
    this.#ended = true
  }

  #switchOn(): { plant: Plant; switchOff(): void } {
    const { rig, clock, seed } = this.#p
    const places: Bus[] = []
    const timers = new EndingTimers(clock, this.#onLate)
    const attach = (bus: number, name: string): Bus => {
      const place = this.#hubs[bus]!.attach(name)
      places.push(place)
      return place
    }
    return {
      plant: createPlant(
        rig,
        timers,
        attach,
        seed,
        rig.simulation.plant === 'afloat' ? new Afloat(rig) : null,
      ),
      switchOff: () => {
        timers.ended = true
        for (const place of places) place.close()
      },
    }
  }

  #beginAnew(): void {
    this.#arms.switchOff()
    this.#faults.clear()
    this.#truth = new MotionTruth(this.#p.rig)
    this.#powered = []
    for (const hub of this.#hubs) hub.mute = false
    this.#arms = this.#switchOn()
  }

  #showAndBeQuiet(number: number): void {
    for (const hub of this.#hubs) hub.mute = true
    for (const bus of this.#p.buses) bus.send(shown(number))
  }

  readonly #onLate = (late: Nanos): void => {
    const { rig, clock, onStandstill } = this.#p
    if (late <= LATE * nanos(rig.control.period) || !onStandstill) return
    const first = this.#standstill.times === 0
    // What is late together stood still together.
    const t = clock.now()
    if (t - this.#standstill.t > late) this.#standstill.times++
    this.#standstill.t = t
    this.#standstill.longest = Math.max(this.#standstill.longest, late)
    if (!first) return
    clock.at(t + TOLD_AFTER, () => {
      const { times, longest } = this.#standstill
      this.#standstill = { times: 0, longest: 0, t: this.#standstill.t }
      if (!this.#ended) onStandstill(times, longest)
    })
  }

  readonly #look = (): void => {
    if (this.#ended) return
    const { clock, rig, onMotion, onPower } = this.#p
    const { plant } = this.#arms
    const t = clock.now()
    plant.witness(t, this.positions)
    for (const change of this.#truth.see(this.positions, t)) onMotion?.(change)
    for (let joint = 0; joint < rig.joints.length; joint++) {
      const on = plant.powered(joint)
      if (on === this.#powered[joint]) continue
      this.#powered[joint] = on
      onPower?.(joint, on, t)
    }
    const due = t + nanos(rig.control.period)
    clock.at(due, () => {
      this.#onLate(clock.now() - due)
      this.#look()
    })
  }
}

/** What is still due for arms that are no more is left out, and what comes late is told. */
class EndingTimers implements Scheduler {
  ended = false
  readonly #inner: Scheduler
  readonly #onLate: (late: Nanos) => void

  constructor(inner: Scheduler, onLate: (late: Nanos) => void) {
    this.#inner = inner
    this.#onLate = onLate
  }

  now(): Nanos {
    return this.#inner.now()
  }

  at(t: Nanos, task: () => void): void {
    // What is asked for too late is late for another reason.
    const due = Math.max(t, this.#inner.now())
    this.#inner.at(t, () => {
      if (this.ended) return
      this.#onLate(this.#inner.now() - due)
      task()
    })
  }
}
