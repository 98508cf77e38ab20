/** A bench with its judge on simulated arms in virtual time, to be stopped, broken and looked at between two ticks. */

import { runLog } from '../../src/bench/log.js'
import type { Bus } from '../../src/bus/contract.js'
import type { BenchEvent, Finding } from '../../src/files/event.js'
import type { FaultName } from '../../src/files/faults/catalogue.js'
import { loadScenario } from '../../src/files/load.js'
import { Judge } from '../../src/verdict/judge.js'
import type { Verdict } from '../../src/verdict/verdict.js'
import { int32 } from '../../src/wire/cia402/process.js'
import { toRadians } from '../../src/wire/cia402/scale.js'
import { CONTROLWORD, isSetpoint, type Sent, Workbench } from './bench.js'

export class JudgedBench {
  readonly table: Workbench
  readonly bench
  readonly events: readonly BenchEvent[]
  /** Setpoints that left, rad: one row a tick in which any did, joints in rig order. */
  readonly setpoints: number[][] = []
  /** Controlwords that left: word and bus. */
  readonly controlwords: [word: number, bus: number][] = []
  readonly #judge: Judge
  #rowAt = -1

  /** @param between stands between a drive and its bus */
  constructor(rigText: string, scenario: string, between?: (joint: string, port: Bus) => Bus) {
    this.table = new Workbench(rigText, between)
    const { rig } = this.table
    const findings: Finding[] = []
    this.#judge = new Judge(rig, loadScenario(scenario, 'scenario.yaml', rig), {
      onFinding: (f) => findings.push(f),
    })
    const log = runLog({ frame: () => {}, event: () => {}, flush: () => {} }, this.#judge, findings, {
      onFinding: (f) => this.bench.onFinding(f),
      onFailure: (error) => {
        throw error
      },
    })
    const { bench, events } = this.table.bench(scenario, (sent) => this.#sent(sent), undefined, log)
    this.bench = bench
    this.events = events
  }

  get rig() {
    return this.table.rig
  }

  get now(): number {
    return this.table.time.now()
  }

  get stages(): string[] {
    return this.events.flatMap((e) => (e.kind === 'stage' ? [e.stage] : []))
  }

  /** s in the present stage */
  inStage(): number {
    return (this.now - this.events.findLast((e) => e.kind === 'stage')!.t) / 1e9
  }

  until(done: () => boolean): void {
    this.table.run(this.bench, done)
    if (!done()) throw new Error(`it never came to that; the stage is ${this.bench.stage}`)
  }

  toTheEnd(): void {
    this.table.run(this.bench)
    if (!this.bench.ended) throw new Error(`the run did not end; the stage is ${this.bench.stage}`)
  }

  tick(times: number): void {
    for (let i = 0; i < times; i++) {
      let ticked = false
      this.table.run(this.bench, () => {
        const was = ticked
        ticked = true
        return was
      })
    }
  }

  /** What was sent so far is no longer of interest. */
  forget(): void {
    this.setpoints.length = this.controlwords.length = 0
    this.#rowAt = -1
  }

  /** rad, true positions now */
  positions(): Float64Array {
    const out = new Float64Array(this.rig.joints.length)
    this.table.plant.witness(this.now, out)
    return out
  }

  /** rad/s, mean over the last tick, by the setpoints */
  speeds(): number[] {
    const [before, last] = this.setpoints.slice(-2)
    return last!.map((q, j) => (q - before![j]!) / this.rig.control.period)
  }

  /** rad, the farthest that any joint truly moved while `act` ran */
  farthest(act: () => void): number {
    const before = this.positions()
    act()
    return Math.max(...this.positions().map((q, j) => Math.abs(q - before[j]!)))
  }

  plantFault(fault: FaultName, joint: string, on = true): void {
    const index = this.rig.joints.findIndex((j) => j.name === joint)
    this.table.plant.fault({ fault, place: index, other: -1, amount: 0 }, on)
  }

  /** A watch asks for a held stop. */
  hold(): void {
    const test = 'For a test.'
    const texts = { quantity: 'way against the command', says: test, why: test, look: test }
    const values = { value: 1, limit: 0, unit: 'm', t: this.now } as const
    this.bench.onFinding({
      watch: 'sense',
      severity: 'failure',
      place: 'port',
      stop: 2,
      ...texts,
      ...values,
    })
  }

  /** ns, of the first stop */
  stopAt(): number {
    return this.events.find((e) => e.kind === 'stop')!.t
  }

  verdict(): Verdict {
    return this.#judge.close().verdict
  }

  #sent(sent: Sent): void {
    const { bus, frame } = sent
    if (frame.id === CONTROLWORD) this.controlwords.push([frame.data[0]!, bus])
    if (!isSetpoint(sent)) return
    if (sent.t !== this.#rowAt)
      this.setpoints.push([...(this.setpoints.at(-1) ?? this.rig.joints.map(() => Number.NaN))])
    this.#rowAt = sent.t
    const joint = this.rig.joints.find((j) => j.wire.bus === bus && j.wire.node === frame.id - 0x200)!
    this.setpoints.at(-1)![joint.index] = toRadians(joint.wire, int32(frame.data, 0))
  }
}
