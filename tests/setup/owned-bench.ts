/** A bench whose driver owns the buses: harness, driver and simulated arms, in one process. */
import { assemble } from '../../src/bench/assemble.js'
import type { BenchEvent } from '../../src/files/event.js'
import { loadScenario } from '../../src/files/load.js'
import type { Verdict } from '../../src/verdict/verdict.js'
import { Workbench } from './bench.js'
import { type BesideOptions, DriverBeside, driverOwned, type Sent } from './driver-beside.js'

export interface OwnedOptions extends Pick<BesideOptions, 'faults' | 'ours' | 'heeds'> {
  readonly rigText: string
  readonly scenario: string
  /** A person holds the approach: `bench.hold`. */
  readonly holdToRun?: boolean
  /** There is an emergency-stop box: `bench.onContact`. */
  readonly boxed?: boolean
}

export class OwnedBench extends DriverBeside {
  readonly table: Workbench
  readonly bench
  readonly judge
  readonly events: BenchEvent[] = []
  /** Frames that left the harness. */
  readonly sent: Sent[]

  constructor({ rigText, scenario, holdToRun = false, boxed = false, ...wrong }: OwnedOptions) {
    const table = new Workbench(driverOwned(rigText))
    const { rig, time, mocks, plant } = table
    super({ rig, time, mocks, ...wrong })
    this.table = table
    this.sent = table.sent
    const run = assemble({
      rig,
      scenario: loadScenario(scenario, 'scenario.yaml', rig),
      seed: 1,
      clock: time,
      buses: rig.buses.map(({ index }) => table.host(index)),
      plant,
      ...{ owner: this.owner, holdToRun, boxed },
      recording: {
        frame: () => {},
        event: (e) => this.events.push(e),
        flush: () => {},
      },
    })
    this.bench = run.bench
    this.judge = run.judge
  }

  get stages(): string[] {
    return this.events.flatMap((e) => (e.kind === 'stage' ? [e.stage] : []))
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
