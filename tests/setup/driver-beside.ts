/**
 * A driver that owns the buses, beside a bench in the same process: on mock buses in virtual time, with a place of its own on each,
 * as another computer would have.
 */
import type { BusOwner } from '../../src/bench/bus-owner.js'
import type { Bus } from '../../src/bus/contract.js'
import type { MockBus } from '../../src/bus/mock.js'
import { nanos, type VirtualTime } from '../../src/clock.js'
import { ReferenceDriver } from '../../src/driver/reference.js'
import type { DrystrokeError } from '../../src/errors.js'
import type { Rig } from '../../src/files/rig.js'
import type { Command } from '../../src/files/scenario.js'
import { type Frame, frame } from '../../src/wire/frame.js'
import { change } from './change.js'
import { OwningDriver, rigFor } from './owning-driver.mjs'

/** ns by which the driver's beat lags the harness's: two computers do not beat as one. */
const APART = 1.3e6

/** The rig of a text, its buses owned by a driver; a bench that is given one starts no program. */
export const driverOwned = (rigText: string): string =>
  change(rigText, 'kind: reference', 'kind: process\n  run: [none]\n  owns-bus: true')

/** A frame that has reached a bus. */
export interface Sent {
  readonly bus: number
  readonly frame: Frame
  readonly t: number
}

export interface BesideOptions {
  readonly rig: Rig
  readonly time: VirtualTime
  readonly mocks: readonly MockBus[]
  /** What the driver does wrong; may be changed while it runs. */
  readonly faults?: Record<string, unknown>
  /** It is a process of the run's own. */
  readonly ours?: boolean
  readonly heeds?: boolean
}

export class DriverBeside {
  readonly driver: OwningDriver
  readonly faults: Record<string, unknown>
  /** As the bench has it. */
  readonly owner: BusOwner
  /** Its frames, in order. */
  readonly driven: Sent[] = []
  /** The driver does nothing any more: frozen, and unless it is ended it may go on. */
  frozen = false
  /** Nothing is left of the driver's process. */
  dead = false
  /** Something of the way to it is broken. */
  trouble: DrystrokeError | null = null
  /** Told last; null: none came. */
  command: Command | null = null
  /** It was ended by the bench: when. */
  silencedAt: number | null = null
  readonly orders: string[] = []
  /** Times that it was met anew. */
  met = 0
  /** Called before each of its beats, whether or not it is there to beat. */
  onBeat: (() => void) | null = null
  readonly #time: VirtualTime
  readonly #ports: readonly Bus[]

  constructor({ rig, time, mocks, faults = {}, ours = true, heeds = true }: BesideOptions) {
    this.faults = faults
    this.#time = time
    this.#ports = mocks.map((mock) => mock.attach('driver', { queue: 64 }))
    this.driver = new OwningDriver(
      rigFor(rig),
      (bus: number, id: number, bytes: number[]) => this.say(bus, id, bytes),
      new ReferenceDriver(rig),
      faults,
    )
    this.#ports.forEach((port, bus) => {
      port.onFrame(({ id, data }) => {
        if (!this.frozen && !this.dead) this.driver.hear(bus, id, data)
      })
    })
    const beside = this
    this.owner = {
      heeds,
      ours,
      get gone() {
        return ours && beside.dead
      },
      get trouble() {
        return beside.trouble
      },
      meetAnew: () => {
        this.met++
      },
      tell: (order, command) => {
        this.command = command
        if (order !== this.orders.at(-1)) this.orders.push(order)
        // A pipe, a datagram: it comes a little later.
        time.at(time.now() + 2e5, () => {
          if (heeds) this.driver.tell(order, command ?? { surge: 0, yaw: 0 })
          else if (order === 'follow' && command) this.driver.tell(order, command)
          else if (order === 'enable') this.driver.tell('follow', { surge: 0, yaw: 0 })
        })
      },
      silence: () => {
        this.silencedAt ??= time.now()
        this.dead = true
      },
    }
    const period = nanos(rig.control.period)
    const beat = (): void => {
      this.onBeat?.()
      if (!this.frozen && !this.dead) this.driver.tick(time.now() / 1e9)
      time.at(time.now() + period, beat)
    }
    time.at(APART, beat)
  }

  get now(): number {
    return this.#time.now()
  }

  /** A frame of the driver's. */
  say(bus: number, id: number, bytes: readonly number[]): void {
    const said = frame(id, Uint8Array.from(bytes))
    if (this.#ports[bus]!.send(said) === 'sent') this.driven.push({ bus, frame: said, t: this.now })
  }
}
