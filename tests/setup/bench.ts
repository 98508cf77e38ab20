/** A bench on simulated arms in virtual time, taken apart far enough that a test can come between its pieces. */
import { Bench } from '../../src/bench/bench.js'
import type { RunLog } from '../../src/bench/run-log.js'
import type { Bus, SendResult } from '../../src/bus/contract.js'
import { MockBus } from '../../src/bus/mock.js'
import { nanos, VirtualTime } from '../../src/clock.js'
import type { Driver } from '../../src/driver/contract.js'
import { ReferenceDriver } from '../../src/driver/reference.js'
import type { BenchEvent } from '../../src/files/event.js'
import { loadRig, loadScenario } from '../../src/files/load.js'
import type { Rig } from '../../src/files/rig.js'
import { createPlant } from '../../src/plant/plant.js'
import { type WatchSettings, watchSchemas } from '../../src/watch/settings.js'
import { between } from './between.js'
import type { Sent } from './driver-beside.js'
import { DEMO_RIG, scenarioText } from './runs.js'

export type { Sent }

/** Rig, buses and simulated arms, for one bench or several in a row. */
export class Workbench {
  readonly rig: Rig<WatchSettings>
  readonly time = new VirtualTime()
  readonly mocks: MockBus[]
  readonly plant
  /** Frames that reached the buses from benches, in order. */
  readonly sent: Sent[] = []
  readonly #throwing = new Set<number>()
  readonly #answers = new Map<number, SendResult>()
  readonly #stalled = new Set<number>()
  #tickedAt = -1

  /** @param inFrontOf stands between a drive and its bus */
  constructor(rigText = DEMO_RIG, inFrontOf: (joint: string, port: Bus) => Bus = (_, port) => port) {
    this.rig = loadRig(rigText, 'rig.yaml', watchSchemas)
    this.mocks = this.rig.buses.map((bus) => new MockBus(this.time, bus))
    this.plant = createPlant(
      this.rig,
      this.time,
      (bus, name) => inFrontOf(name, this.mocks[bus]!.attach(name, { order: 'by identifier' })),
      1,
    )
  }

  /** From now on this bus's adapter throws at every send. */
  breakBus(bus: number): void {
    this.#throwing.add(bus)
  }

  /** From now on this bus's adapter takes no frame and answers so. */
  refuse(bus: number, answer: SendResult): void {
    this.#answers.set(bus, answer)
  }

  /** From now on frames wait on this bus, or (false) do no longer. */
  stall(bus: number, on = true): void {
    if (on) this.#stalled.add(bus)
    else this.#stalled.delete(bus)
  }

  bench(
    scenario = scenarioText('slow-ahead'),
    onFrame: (sent: Sent) => void = () => {},
    driver: Driver = new ReferenceDriver(this.rig),
    log?: RunLog,
    boxed = false,
    holdToRun = false,
  ) {
    const events: BenchEvent[] = []
    const bench = new Bench({
      rig: this.rig,
      scenario: loadScenario(scenario, 'scenario.yaml', this.rig),
      seed: 1,
      clock: this.time,
      buses: this.rig.buses.map(({ index }) => this.host(index)),
      driver,
      plant: this.plant,
      boxed,
      holdToRun,
      log: {
        frame: (bus, frame, t, sent) => {
          if (sent) onFrame({ bus, frame, t })
          log?.frame(bus, frame, t, sent)
        },
        event: (e) => {
          events.push(e)
          log?.event(e)
        },
      },
    })
    return { bench, events }
  }

  /** Ticks until `until` says so, the bench has ended, or two minutes are over; called again, it goes on. */
  run(bench: Bench, until: () => boolean = () => false): void {
    const period = nanos(this.rig.control.period)
    const end = this.time.now() + nanos(120)
    const now = this.time.now()
    const next = now === this.#tickedAt ? now + period : now
    for (let t = next; !bench.ended && !until() && t < end; t += period) {
      this.time.runUntil(t)
      this.#tickedAt = t
      bench.tick()
    }
  }

  /** A place of the harness's own on a bus. */
  host(bus: number): Bus {
    const { queue } = this.rig.buses[bus]!
    const port = this.mocks[bus]!.attach('bench', { queue })
    const stalled = this.#stalled
    return between(port, {
      get waiting() {
        return port.waiting + (stalled.has(bus) ? 1 : 0)
      },
      send: (frame) => {
        if (this.#throwing.has(bus)) throw new Error('input/output error')
        const result = this.#answers.get(bus) ?? port.send(frame)
        if (result === 'sent') this.sent.push({ bus, frame, t: this.time.now() })
        return result
      },
    })
  }
}

export const CONTROLWORD = 0x181
export const isSetpoint = ({ frame }: Sent): boolean => frame.id > 0x200 && frame.id < 0x280
export const isControl = ({ frame }: Sent, word: number): boolean =>
  frame.id === CONTROLWORD && frame.data[0] === word
