/**
 * The simulated arms of a rig on buses that other processes speak on: the same plant as on the mock bus, in real time.
 *
 * Left out: bit timing and arbitration between the arms' own frames (on vcan and TCP there are none), and what the plant
 * leaves out.
 */
import type { Bus } from '../bus/contract.js'
import { nanos, type Scheduler } from '../clock.js'
import type { Rig } from '../files/rig.js'
import { Hub } from '../plant/hub.js'
import { createPlant } from '../plant/plant.js'
import { Decoder } from '../wire/decoder.js'
import type { ReportedState } from '../wire/observation.js'
import type { Order } from './orders.js'
import { type MotionChange, MotionTruth } from './truth.js'

export interface StandInParts {
  readonly rig: Rig
  readonly clock: Scheduler
  /** One a bus of the rig, on the arms' side. */
  readonly buses: readonly Bus[]
  readonly seed: number
  /** A joint began to move or came to rest, by its true position. */
  readonly onMotion?: (change: MotionChange) => void
}

export class StandIn {
  /** rad, true positions at the last look */
  readonly positions: Float64Array
  /** What each joint's drive said last, undefined before its first feedback. */
  readonly states: readonly (ReportedState | undefined)[]
  /** Frames that came in and went out, by bus. */
  readonly frames: readonly { in: number; out: number }[]
  readonly #p: StandInParts
  readonly #plant
  readonly #truth: MotionTruth
  readonly #faults = new Map<string, string>()
  #ended = false

  /** Powers the arms on. */
  constructor(parts: StandInParts) {
    this.#p = parts
    const { rig, clock, buses, seed } = parts
    const states: (ReportedState | undefined)[] = rig.joints.map(() => undefined)
    this.states = states
    this.frames = buses.map(() => ({ in: 0, out: 0 }))
    this.positions = new Float64Array(rig.joints.length)
    this.#truth = new MotionTruth(rig)
    const decoder = new Decoder(rig, (o) => {
      if (o.kind === 'state') states[o.joint] = o.state
    })
    const hubs = buses.map((bus, i) => {
      const count = this.frames[i]!
      bus.onFrame(() => count.in++)
      return new Hub(bus, (frame) => {
        count.out++
        decoder.see(i, frame, clock.now(), false)
      })
    })
    this.#plant = createPlant(rig, clock, (bus, name) => hubs[bus]!.attach(name), seed)
    this.#look()
  }

  /** Faults that are on, as they were ordered. */
  get faults(): string[] {
    return [...this.#faults.values()]
  }

  order(order: Order): void {
    if (order.kind !== 'fault') return
    const { fault, on } = order
    this.#plant.fault(fault, on)
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

  readonly #look = (): void => {
    if (this.#ended) return
    const { clock, rig, onMotion } = this.#p
    const t = clock.now()
    this.#plant.witness(t, this.positions)
    for (const change of this.#truth.see(this.positions, t)) onMotion?.(change)
    clock.at(t + nanos(rig.control.period), this.#look)
  }
}
