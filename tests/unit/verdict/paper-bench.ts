/**
 * A bench on paper, in frames and events: drives that follow perfectly, a stop that a finding latches, everything logged
 * so that another judge can be shown the same. It models no bus: frames come when they are said to.
 */
import type { BenchEvent, Finding, Stage } from '../../../src/files/event.js'
import type { Rig } from '../../../src/files/rig.js'
import type { Scenario } from '../../../src/files/scenario.js'
import { Judge, type Judgement } from '../../../src/verdict/judge.js'
import type { WatchSettings } from '../../../src/watch/settings.js'
import { heartbeatFrame, nmtFrame, SYNC_FRAME } from '../../../src/wire/cia402/network.js'
import { controlwordFrame, feedbackFrame, setpointFrame } from '../../../src/wire/cia402/process.js'
import { toCounts } from '../../../src/wire/cia402/scale.js'
import { CONTROLWORD, FOLLOWS_BIT, statusBits } from '../../../src/wire/cia402/state.js'
import type { Frame } from '../../../src/wire/frame.js'
import type { DriveState } from '../../../src/wire/observation.js'
import { PERIOD } from '../watch/rig.js'

export const NS = PERIOD * 1e9
/** Cycles between two heartbeats of a drive. */
const BEAT = 10

/** rad, of joint j at time s of the run */
export type Path = (j: number, s: number) => number

export interface Changes {
  /** Joints that send nothing. */
  readonly silent?: readonly number[]
  /** rad, what feedback says instead of the path. */
  readonly feedback?: Path
  /** Setpoints are sent. */
  readonly driven?: boolean
}

export class PaperBench {
  k = 0
  readonly judge: Judge
  readonly log: ((judge: Judge) => void)[] = []
  readonly findings: Finding[] = []
  /** Does a finding that asks for a stop get one? */
  obeys = true
  stopped = false
  path: Path = () => 0
  readonly #rig: Rig<WatchSettings>
  readonly #states: DriveState[]

  constructor(rig: Rig<WatchSettings>, scenario: Scenario) {
    this.#rig = rig
    this.#states = rig.joints.map(() => 'switch on disabled')
    this.judge = new Judge(rig, scenario, { onFinding: (f) => this.findings.push(f) })
    this.event({ kind: 'begin', t: 0, rig: rig.name, scenario: scenario.name, seed: 7 })
  }

  get t(): number {
    return Math.round(this.k * NS)
  }

  event(e: BenchEvent): this {
    this.#tell((judge) => judge.event(e))
    return this
  }

  frame(bus: number, frame: Frame, t: number, sent: boolean): this {
    this.#tell((judge) => judge.frame(bus, frame, t, sent))
    return this
  }

  stage(stage: Stage): this {
    return this.event({ kind: 'stage', t: this.t, stage })
  }

  drives(state: DriveState): this {
    this.#states.fill(state)
    return this
  }

  /** Set up, enabled, at the start of the scenario. */
  ready(): this {
    this.stage('setup')
    for (const { index } of this.#rig.buses) this.frame(index, nmtFrame('start', 0), this.t, true)
    this.stage('seed').cycles(40).stage('enable').drives('operation enabled').cycles(20)
    return this.stage('approach').cycles(20).stage('play')
  }

  /** The joints stop dead, told by a quick stop. */
  stop(source: string, place = ''): this {
    if (this.stopped) return this
    this.stopped = true
    const { path } = this
    const s = this.k * PERIOD
    this.path = (j) => path(j, s)
    for (const { index, controlword } of this.#rig.buses)
      this.frame(index, controlwordFrame(controlword!, CONTROLWORD['quick stop']), this.t, true)
    this.drives('quick stop active')
    this.event({ kind: 'stop', t: this.t, source, place, category: 1, says: 'for the test' })
    return this.stage('stopping')
  }

  cycles(count: number, { silent = [], feedback, driven = !this.stopped }: Changes = {}): this {
    const { joints, buses } = this.#rig
    for (const end = this.k + count; this.k < end; this.k++) {
      const { k, t } = this
      const s = k * PERIOD
      for (const { index } of buses) this.frame(index, SYNC_FRAME, t, true)
      for (const { index, wire } of driven ? joints : []) {
        const counts = toCounts(wire, this.path(index, s + 2 * PERIOD))
        this.frame(wire.bus, setpointFrame(0x200 + wire.node, counts), t, true)
      }
      const witness = joints.map((j) => this.path(j.index, s))
      this.event({ kind: 'tick', t, k, late: 0, setpoints: null, witness })
      for (const { index, wire } of joints) {
        if (silent.includes(index)) continue
        const state = this.#states[index]!
        const word = statusBits(state) | (state === 'operation enabled' ? FOLLOWS_BIT : 0)
        const counts = toCounts(wire, (feedback ?? this.path)(index, s))
        const at = t + 300_000 + 50_000 * index
        this.frame(wire.bus, feedbackFrame(0x180 + wire.node, word, counts, 0), at, false)
        if (k % BEAT === 0) this.frame(wire.bus, heartbeatFrame(wire.node, 'operational'), at + 1000, false)
      }
    }
    return this
  }

  end(reason: 'completed' | 'stopped' | 'signal' = 'completed'): Judgement {
    this.event({ kind: 'end', t: this.t, reason })
    return this.judge.close()
  }

  /** Shows the whole log to a judge that knows nothing yet. */
  replay(judge: Judge): Judgement {
    for (const entry of this.log) entry(judge)
    return judge.close()
  }

  #tell(entry: (judge: Judge) => void): void {
    this.log.push(entry)
    const before = this.findings.length
    entry(this.judge)
    const wanted = this.findings.slice(before).find((f) => f.stop !== null)
    if (wanted !== undefined && this.obeys) this.stop(wanted.watch, wanted.place)
  }
}
