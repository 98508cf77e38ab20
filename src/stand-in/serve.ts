/**
 * The simulated arms of a rig on buses that other processes speak on: the same plant as on the mock bus, in real time.
 *
 * Left out: bit timing and arbitration between the arms' own frames (on vcan and TCP there are none), and what the plant
 * leaves out.
 */
import type { Bus } from '../bus/contract.js'
import { type Nanos, nanos, type Scheduler } from '../clock.js'
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
    const name = `${fault.fault} ${this.#p.rig.joints[fault.joint]!.name}`
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
    const timers = new EndingTimers(clock)
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
    clock.at(t + nanos(rig.control.period), this.#look)
  }
}

/** What is still due for arms that are no more is left out. */
class EndingTimers implements Scheduler {
  ended = false
  readonly #inner: Scheduler

  constructor(inner: Scheduler) {
    this.#inner = inner
  }

  now(): Nanos {
    return this.#inner.now()
  }

  at(t: Nanos, task: () => void): void {
    this.#inner.at(t, () => {
      if (!this.ended) task()
    })
  }
}
