/**
 * Arms jogged in real time by a bench process of their own, with its guardian, watches and stop: real ones, a stand-in, or
 * simulated ones on mock buses. Each start has a recording.
 */

import { JOG_SCENARIO } from '../bench/jog-scenario.js'
import type { ArmsSeen } from '../bench/realtime/message.js'
import { BACKLOG } from '../bench/realtime/play.js'
import { BenchProcess } from '../bench/realtime/process.js'
import { later } from '../clock.js'
import { DrystrokeError } from '../errors.js'
import type { OutsideStop } from '../files/event.js'
import { resolvedScenarioText } from '../files/resolved-text.js'
import type { Rig } from '../files/rig.js'
import { recordingFolder } from '../record/folder.js'
import { provenanceNow } from '../record/provenance.js'
import { RecordingFiles } from '../record/write.js'
import { stopMark } from '../stop/mark.js'
import type { WatchSettings } from '../watch/settings.js'
import type { ArmsKind } from './confirmed.js'
import { FARTHEST, type JogSession, type Unplugged } from './jog.js'
import { PowerLossFold, type PowerLost } from './power-loss.js'

/** ms, longest waits: for a start, a move, a person's hand, all drives once one has lost its power, the end of their run */
const START_WITHIN = 90_000
const MOVE_WITHIN = 120_000
const HAND_WITHIN = 60_000
const LOSS_WITHIN = 5000
const REST_WITHIN = 30_000
/** ms of rest after a move, before its end is read */
const SETTLE = 300
/** Feedback older than this counts as silence: control periods. */
const SILENT = 10

export interface BenchJogRequest {
  readonly rig: Rig<WatchSettings>
  /** As resolved. */
  readonly rigText: string
  readonly rigFile: string
  /** Socket of the stand-in that the arms are, null: they are none. */
  readonly standIn: string | null
  /** Where the recordings go. */
  readonly outDir: string
  readonly seed: number
}

export class BenchJog implements JogSession {
  readonly arms: ArmsKind
  /** Rejects when the arms were stopped, or their process is gone, and nobody waited for that. */
  readonly gone: Promise<never>
  readonly #request: BenchJogRequest
  #fail: (error: unknown) => void = () => {}
  readonly #stopMark: string
  #bench: BenchProcess | null = null
  #over = false
  #problem: unknown = null
  #arms: ArmsSeen | null = null
  #expected = false
  #look: () => void = () => {}
  /** rad, where each joint was last heard before an unplug. */
  #last: readonly (number | null)[] = []

  constructor(request: BenchJogRequest) {
    this.#request = request
    // Before anybody is asked: a stop from another terminal meanwhile counts.
    this.#stopMark = stopMark(request.rig)
    const mock = request.rig.buses.every((b) => b.address.kind === 'mock')
    this.arms = mock ? 'simulated' : request.standIn === null ? 'real' : 'stand-in'
    this.gone = new Promise((_, reject) => {
      this.#fail = reject
    })
    this.gone.catch(() => {})
  }

  async start(): Promise<void> {
    if (this.#bench !== null && !this.#over) return
    this.#begin()
    await this.#until((a) => a.stage === 'play' || a.stop !== null, START_WITHIN)
    this.#refuseStopped()
    if (this.#arms?.stage !== 'play') throw refusal(`the arms were not ready within ${START_WITHIN / 1000} s`)
    await rest(SETTLE)
  }

  position(joint: number): number {
    return this.#arms?.positions[joint] ?? Number.NaN
  }

  drive(joint: number): string | null {
    return this.#arms?.drives[joint] ?? null
  }

  async moveTo(joint: number, angle: number): Promise<void> {
    this.#refuseStopped()
    await this.#move(joint, angle, (a) => a.stop !== null)
    this.#refuseStopped()
    await rest(SETTLE)
    this.#refuseStopped()
  }

  async powerLoss(): Promise<PowerLost> {
    await this.start()
    this.#refuseStopped()
    const { joints, control } = this.#request.rig
    this.#expected = true
    if (this.arms === 'simulated') this.#bench!.order({ kind: 'unpower' })
    const fold = new PowerLossFold(joints, control.period, this.#arms!)
    const lost = (a: ArmsSeen): number => {
      fold.see(a)
      return fold.lost
    }
    await this.#until((a) => lost(a) > 0, HAND_WITHIN)
    if (fold.lost > 0) await this.#until((a) => lost(a) === joints.length, LOSS_WITHIN)
    // Drives without power end the run: it goes on until all is at rest, and sag has been looked at.
    if (fold.lost === joints.length) await this.#until((a) => lost(a) === 0, REST_WITHIN)
    return fold.result()
  }

  /** To and fro until the link is lost; what the drives do then nobody here can hear. */
  async unplug(bus: number, joint: number): Promise<Unplugged> {
    await this.start()
    this.#refuseStopped()
    this.#expected = true
    const { lower, upper } = this.#request.rig.joints[joint]!.limits
    const away = this.position(joint) > (lower + upper) / 2 ? -FARTHEST : FARTHEST
    let waiting = true
    const enough = later(HAND_WITHIN, () => {
      waiting = false
    })
    for (
      let angle = away;
      waiting && !this.#over && this.#arms!.stop === null;
      angle = angle === 0 ? away : 0
    )
      await this.#move(joint, angle, (a) => a.stop !== null)
    enough()
    const own = this.#request.rig.joints.filter((j) => j.wire.bus === bus)
    // What was on its way when the plug came out has come by the time that the run has ended.
    await this.#until(() => false, HAND_WITHIN)
    const { seen = [], t = 0, positions = [] } = this.#arms ?? {}
    this.#last = positions
    const lost = own.every((j) => t - (seen[j.index] ?? t) > SILENT * this.#request.rig.control.period * 1e9)
    if (!lost && !this.#over) await this.end()
    return { toStill: null, lost, moving: [] }
  }

  async lookAgain(joint: number): Promise<number> {
    const last = this.#last[joint] ?? Number.NaN
    this.#expected = false
    await this.start()
    const away = Math.abs(this.position(joint) - last)
    if (Number.isFinite(away)) return away
    throw refusal('where the joint stood was never heard')
  }

  /** Something wants the arms stopped. */
  stop(stop: OutsideStop): void {
    this.#bench?.order({ kind: 'stop', stop })
  }

  async end(): Promise<void> {
    if (this.#bench === null) return
    this.#expected = true
    this.#bench.order({ kind: 'finish' })
    await this.#until(() => false, MOVE_WITHIN)
    this.#bench.leave()
  }

  #begin(): void {
    const { rigText, rigFile, standIn, outDir, seed } = this.#request
    const scenarioText = resolvedScenarioText(JOG_SCENARIO)
    const folder = recordingFolder(outDir, 'jog')
    const provenance = provenanceNow({ rigFile, scenarioFile: 'jog', arms: this.arms })
    this.#over = false
    this.#problem = null
    this.#arms = null
    const bench = new BenchProcess({
      create: () => RecordingFiles.create(folder, { rigText, scenarioText, provenance }),
      onArms: (arms) => {
        this.#arms = arms
        if (arms.stop !== null && !this.#expected)
          this.#fail(refusal(`the arms were stopped by ${arms.stop}`))
        this.#look()
      },
    })
    this.#bench = bench
    const over = (problem: unknown): void => {
      this.#over = true
      this.#problem = problem
      if (!this.#expected) this.#fail(problem ?? refusal('the process that moves the arms has ended'))
      this.#look()
    }
    bench.over.then(() => over(null), over)
    bench.order({
      kind: 'job',
      job: {
        ...{ rigText, scenarioText, rigFile, scenarioFile: 'jog', seed, standIn, backlog: BACKLOG },
        ...{ jog: true, hold: false, drives: null, stopMark: this.#stopMark },
      },
    })
  }

  async #move(joint: number, angle: number, enough: (a: ArmsSeen) => boolean): Promise<void> {
    const told = this.#arms?.t ?? 0
    this.#bench!.order({ kind: 'move', joint, angle })
    // It takes a moment until the order has arrived: first it is seen to move.
    await this.#until((a) => enough(a) || !a.resting, MOVE_WITHIN)
    await this.#until((a) => enough(a) || (a.t > told && a.resting), MOVE_WITHIN)
  }

  /** Resolves when it is so, when the process is over, or after `ms`. */
  #until(met: (arms: ArmsSeen) => boolean, ms: number): Promise<void> {
    return new Promise((resolve) => {
      const forget = later(ms, () => done())
      const done = (): void => {
        forget()
        this.#look = () => {}
        resolve()
      }
      this.#look = () => {
        if (this.#over || (this.#arms !== null && met(this.#arms))) done()
      }
      this.#look()
    })
  }

  #refuseStopped(): void {
    if (this.#problem !== null) throw this.#problem
    const stop = this.#arms?.stop
    if (stop) throw refusal(`the arms were stopped by ${stop}`)
    if (this.#over) throw refusal('the process that moves the arms has ended')
  }
}

function rest(ms: number): Promise<void> {
  return new Promise((resolve) => {
    later(ms, resolve)
  })
}

function refusal(says: string): DrystrokeError {
  return new DrystrokeError(
    'not-confirmed',
    `The jog has ended: ${says}; what was not asked is not confirmed`,
  )
}
