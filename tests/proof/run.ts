/** One run of the proof: in memory, in virtual time, with the judge that every run has; what came of it as a row. */
import { Bench } from '../../src/bench/bench.js'
import { type LogListeners, runLog } from '../../src/bench/log.js'
import { VirtualLoop } from '../../src/bench/virtual-loop.js'
import { VirtualTime } from '../../src/clock.js'
import type { Driver } from '../../src/driver/contract.js'
import { FaultyDriver } from '../../src/driver/faulty-driver.js'
import { ReferenceDriver } from '../../src/driver/reference.js'
import type { BenchEvent, Finding, Severity } from '../../src/files/event.js'
import type { Rig } from '../../src/files/rig.js'
import type { Scenario } from '../../src/files/scenario.js'
import { Judge } from '../../src/verdict/judge.js'
import type { Verdict } from '../../src/verdict/verdict.js'
import type { WatchSettings } from '../../src/watch/settings.js'
import { Compared } from './compared.js'
import { Excursion } from './excursion.js'
import { type Owned, OwnedRun } from './owned.js'
import { drawnArms } from './tolerances.js'

/** s of virtual time after which a run that has not ended is given up. */
const LONGEST = 300

export interface Seen {
  readonly watch: string
  readonly severity: Severity
  readonly place: string
  readonly quantity: string
  /** s since the run's first tick */
  readonly t: number
  /** It asked for a stop. */
  readonly stops: boolean
}

/** What came of a run. Times in s since its first tick. */
export interface Outcome {
  readonly outcome: Verdict['outcome'] | 'defect'
  /** Of the verdict, or what went wrong with the run itself. */
  readonly sentence: string
  readonly findings: readonly Seen[]
  readonly stop: { readonly by: string; readonly t: number; readonly toStill: number | null } | null
  /** When the wrong began; null: it never came to that */
  readonly onset: number | null
  /** m, of a blade from where a sound driver would have it, from the onset on */
  readonly excursion: number
  /** Of the arm that made the most. */
  readonly strokes: number
  readonly afloat: boolean
  /** Where the craft went; null: dry, or nothing tells. */
  readonly craft: CraftWay | null
  readonly length: number
}

export interface CraftWay {
  /** m/s, the fastest, ahead +, astern - */
  readonly surge: number
  /** m made good, rad turned to port */
  readonly way: number
  readonly turn: number
}

export interface Run {
  readonly rig: Rig<WatchSettings>
  readonly scenario: Scenario
  readonly seed: number
  /** Of the simulated arms. */
  readonly tolerances: number
  /** Left out: the sound one. */
  readonly driver?: Driver
  /** A driver that owns the buses, which are its own in the rig. */
  readonly owned?: Owned
  /** The findings of this watch come to nothing, neither a stop nor a row: as if it were not there. */
  readonly without?: string
}

export function runOnce(run: Run): Outcome {
  const { rig, scenario, seed } = run
  const time = new VirtualTime()
  const { mocks, ...arms } = drawnArms(rig, time, run.tolerances, scenario.plant)
  const compared = run.driver === undefined ? null : new Compared(rig, run.driver)
  const driver = compared ?? new ReferenceDriver(rig)
  let bench: Bench | undefined
  const owned = run.owned
    ? new OwnedRun(rig, time, mocks, run.owned, () => bench?.scenarioTime ?? null)
    : null
  const watched = new Follower(rig, compared, owned)
  const findings: Finding[] = []
  const judge = new Judge(rig, scenario, {
    onFinding: (f) => {
      if (f.watch !== run.without) findings.push(f)
    },
  })
  const listeners: LogListeners = {
    onFinding: (f) => bench?.onFinding(f),
    onFailure: (error) => bench?.onDefect(error),
  }
  const nothing = (): void => {}
  const recording = { frame: nothing, event: (e: BenchEvent) => watched.see(e), flush: nothing }
  const log = runLog(recording, judge, findings, listeners)
  const { period } = rig.control
  const loop = new VirtualLoop(time, period, seed, arms.buses)
  const faulty = FaultyDriver.where(scenario.faults, driver, period)
  bench = new Bench({
    ...{ rig, scenario, seed, clock: time, clockFaults: loop.faults },
    ...arms,
    driver: faulty ?? driver,
    owner: owned?.beside.owner ?? null,
    ...(faulty ? { driverFaults: faulty } : {}),
    log,
  })
  const most = Math.round(LONGEST / rig.control.period)
  for (let k = 0; !bench.ended; k++) {
    if (k > most) throw new Error(`the run had not ended after ${LONGEST} s; its stage is ${bench.stage}`)
    loop.turn((late, missed) => bench!.tick(late, missed))
  }
  if (log.failure) throw log.failure.error
  const afloat = scenario.plant === 'afloat'
  return { ...watched.outcome(judge.close().verdict, run.without), afloat }
}

/** Picks what a row needs out of a run's events. */
class Follower {
  readonly #compared: Compared | null
  readonly #owned: OwnedRun | null
  readonly #excursion: Excursion
  readonly #asked: Float64Array
  #asks = false
  #approaching = false
  #played = false
  /** The fault was there before anything moved: its time counts from the first stroke, or, where it never came to that, from the start. */
  #fromStart = false
  #first: number | null = null
  #onset: number | null = null

  constructor(rig: Rig, compared: Compared | null, owned: OwnedRun | null) {
    this.#compared = compared
    this.#owned = owned
    this.#excursion = new Excursion(rig)
    this.#asked = new Float64Array(rig.joints.length)
  }

  see(e: BenchEvent): void {
    this.#first ??= e.t
    const compared = this.#compared
    if (e.kind === 'fault' && e.begins) {
      if (this.#played) this.#onset ??= e.t
      else this.#fromStart = true
    } else if (e.kind === 'stage') {
      if (e.stage === 'play') this.#played = true
      if (this.#played && this.#fromStart) this.#onset ??= e.t
      // On the way to the park pose the arms are not where any driver would have them.
      this.#approaching = e.stage === 'approach'
      if (this.#approaching && compared?.parksElsewhere) this.#onset ??= e.t
    } else if (e.kind === 'tick') {
      if (compared?.differs) this.#onset ??= e.t
      this.#onset ??= this.#owned?.differsAt ?? null
      const asked = this.#owned ? this.#owned.sound : e.setpoints && (compared?.sound ?? e.setpoints)
      if (asked !== null) {
        this.#asked.set(asked)
        this.#asks = true
      }
      if (this.#onset !== null && this.#asks && !this.#approaching && e.witness !== null)
        this.#excursion.see(this.#asked, e.witness)
    }
  }

  outcome(
    { outcome, sentence, findings, stop, watches, length }: Verdict,
    without?: string,
  ): Omit<Outcome, 'afloat'> {
    const first = this.#first ?? 0
    if (this.#fromStart && !this.#played) this.#onset = first
    const seconds = (t: number): number => (t - first) / 1e9
    return {
      outcome,
      sentence,
      findings: findings
        .filter((f) => f.watch !== without)
        .map(({ watch, severity, place, quantity, t, stop: asked }) => {
          return { watch, severity, place, quantity, t: seconds(t), stops: asked !== null }
        }),
      stop: stop && { by: stop.source, t: seconds(stop.t), toStill: stop.toStill },
      onset: this.#onset === null ? null : seconds(this.#onset),
      excursion: this.#excursion.greatest,
      strokes: mostStrokes(watches),
      craft: without === 'craft' ? null : craftWay(watches),
      length: length / 1e9,
    }
  }
}

function craftWay(watches: Verdict['watches']): CraftWay | null {
  const figures = watches.find((w) => w.watch === 'craft')?.figures ?? []
  if (figures.length === 0) return null
  const value = (name: string): number => figures.find((f) => f.name === name)!.value
  return { surge: value('surge, fastest'), way: value('way made good'), turn: value('turn to port') }
}

function mostStrokes(watches: Verdict['watches']): number {
  const byArm = new Map<string, number>()
  for (const { place, name, value } of watches.find((w) => w.watch === 'sense')?.figures ?? []) {
    if (name === 'strokes ahead' || name === 'strokes astern')
      byArm.set(place, (byArm.get(place) ?? 0) + value)
  }
  return Math.max(0, ...byArm.values())
}
