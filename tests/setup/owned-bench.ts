/**
 * A bench whose driver owns the buses: harness, driver and simulated arms on mock buses in virtual time, in one process. The
 * driver has a place of its own on each bus, as another computer would have.
 */
import { assemble } from '../../src/bench/assemble.js'
import type { BusOwner } from '../../src/bench/bus-owner.js'
import type { Bus } from '../../src/bus/contract.js'
import { nanos } from '../../src/clock.js'
import { ReferenceDriver } from '../../src/driver/reference.js'
import type { DrystrokeError } from '../../src/errors.js'
import type { BenchEvent } from '../../src/files/event.js'
import { loadScenario } from '../../src/files/load.js'
import type { Command } from '../../src/files/scenario.js'
import type { Verdict } from '../../src/verdict/verdict.js'
import { frame } from '../../src/wire/frame.js'
import { type Sent, Workbench } from './bench.js'
import { OwningDriver, rigFor } from './owning-driver.mjs'
import { change } from './runs.js'

/** ns by which the driver's beat lags the harness's: two computers do not beat as one. */
const APART = 1.3e6

export interface OwnedOptions {
  readonly rigText: string
  readonly scenario: string
  /** What the driver does wrong; may be changed while it runs. */
  readonly faults?: Record<string, unknown>
  /** It is a process of the run's own. */
  readonly ours?: boolean
  readonly heeds?: boolean
  /** A person holds the approach: `bench.hold`. */
  readonly holdToRun?: boolean
  /** There is an emergency-stop box: `bench.onContact`. */
  readonly boxed?: boolean
}

/** The rig of a text, its buses owned by a driver; a bench that is given one starts no program. */
export const driverOwned = (rigText: string): string =>
  change(rigText, 'kind: reference', 'kind: process\n  run: [none]\n  owns-bus: true')

export class OwnedBench {
  readonly table: Workbench
  readonly bench
  readonly judge
  readonly events: BenchEvent[] = []
  /** Frames that left the harness, and the driver. */
  readonly sent: Sent[] = []
  readonly driven: Sent[] = []
  readonly driver: OwningDriver
  readonly faults: Record<string, unknown>
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
  readonly #ports: readonly Bus[]

  constructor({
    rigText,
    scenario,
    faults = {},
    ours = true,
    heeds = true,
    holdToRun = false,
    boxed = false,
  }: OwnedOptions) {
    this.table = new Workbench(driverOwned(rigText))
    this.faults = faults
    const { rig, time, mocks, plant } = this.table
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
    const test = this
    const owner: BusOwner = {
      heeds,
      ours,
      get gone() {
        return ours && test.dead
      },
      get trouble() {
        return test.trouble
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
    const run = assemble({
      rig,
      scenario: loadScenario(scenario, 'scenario.yaml', rig),
      seed: 1,
      clock: time,
      buses: rig.buses.map(({ index }) => this.table.host(index)),
      plant,
      ...{ owner, holdToRun, boxed },
      recording: {
        frame: () => {},
        event: (e) => this.events.push(e),
        flush: () => {},
      },
    })
    this.bench = run.bench
    this.judge = run.judge
    this.sent = this.table.sent
    const period = nanos(rig.control.period)
    const beat = (): void => {
      if (!this.frozen && !this.dead) this.driver.tick(time.now() / 1e9)
      time.at(time.now() + period, beat)
    }
    time.at(APART, beat)
  }

  get now(): number {
    return this.table.time.now()
  }

  get stages(): string[] {
    return this.events.flatMap((e) => (e.kind === 'stage' ? [e.stage] : []))
  }

  /** A frame of the driver's. */
  say(bus: number, id: number, bytes: readonly number[]): void {
    const said = frame(id, Uint8Array.from(bytes))
    if (this.#ports[bus]!.send(said) === 'sent') this.driven.push({ bus, frame: said, t: this.now })
  }

  until(done: () => boolean): void {
    this.table.run(this.bench, done)
    if (!done()) throw new Error(`it never came to that; the stage is ${this.bench.stage}`)
  }

  toTheEnd(): void {
    this.table.run(this.bench)
    if (!this.bench.ended) throw new Error(`the run did not end; the stage is ${this.bench.stage}`)
  }

  /** s of the scenario */
  at(s: number): void {
    this.until(() => (this.bench.scenarioTime ?? -1) >= s)
  }

  /** rad, true positions now */
  positions(): Float64Array {
    const out = new Float64Array(this.table.rig.joints.length)
    this.table.plant.witness(this.now, out)
    return out
  }

  powered(): number {
    return this.table.rig.joints.filter((j) => this.table.plant.powered(j.index)).length
  }

  verdict(): Verdict {
    return this.judge.close().verdict
  }
}
