/**
 * The judge: a fold over frames and events, the same for a running bench and for a recording, that hands what it sees to
 * the watches, collects their findings and, at the end, holds the run against what the scenario expects.
 *
 * Order is everything. While something is being seen, whatever is handed in (a bench may latch its stop inside
 * `onFinding`) waits its turn: all watches see it after the present frame or event, as a reader of the recording does.
 */
import type { Nanos } from '../clock.js'
import type { BenchEvent, Finding, Stage } from '../files/event.js'
import type { Rig } from '../files/rig.js'
import type { Scenario } from '../files/scenario.js'
import { createWatches, type Watches } from '../watch/all.js'
import type { WatchSettings } from '../watch/settings.js'
import type { Observation, ObservationKind, Watch } from '../watch/watch.js'
import { Decoder } from '../wire/decoder.js'
import type { Frame } from '../wire/frame.js'
import { cautionsFor } from './cautions.js'
import { holdAgainst, type RunFacts } from './expectations.js'
import { outcomeOf } from './outcome.js'
import { ReportedTroubles } from './reported.js'
import { TraceFold } from './trace.js'
import type { EscalationFacts, StopFacts, Trace, Verdict } from './verdict.js'

export interface StageEntry {
  readonly stage: Stage
  readonly t: Nanos
}

export interface Judgement {
  readonly verdict: Verdict
  readonly trace: Trace
  /** When each stage was entered, in order. */
  readonly stages: readonly StageEntry[]
}

export interface JudgeOptions {
  /** Given each finding as it is made; not those that are only made when the run is over. */
  readonly onFinding?: (f: Finding) => void
}

/** Findings kept in the verdict, and how many of them may be warnings: a failure always has room. */
const MOST_FINDINGS = 200
const MOST_WARNINGS = 150

type Seer = Pick<Watch, 'see'>

export class Judge {
  readonly #rig: Rig<WatchSettings>
  readonly #scenario: Scenario
  readonly #onFinding: ((f: Finding) => void) | undefined
  readonly #decoder: Decoder
  readonly #watches: Watches
  readonly #trace: TraceFold
  readonly #seers: ReadonlyMap<ObservationKind, readonly Seer[]>
  readonly #findings: Finding[] = []
  readonly #more = { warning: 0, failure: 0, doubt: 0 }
  #warnings = 0
  readonly #stages: StageEntry[] = []
  /** What was handed in while the judge was busy. */
  readonly #waiting: (() => void)[] = []
  #busy = false
  #closed = false
  #lost = false
  #standIn = false
  #first: Nanos | null = null
  #last: Nanos = 0
  #seed = 0
  #begun = false
  #zero: Nanos | null = null
  #played: Nanos | null = null
  #stop: Omit<StopFacts, 'toStill' | 'escalation'> | null = null
  #escalation: EscalationFacts | null = null
  #stops = 0
  #ended: Verdict['ended'] = 'cut short'

  constructor(rig: Rig<WatchSettings>, scenario: Scenario, options: JudgeOptions = {}) {
    this.#rig = rig
    this.#scenario = scenario
    this.#onFinding = options.onFinding
    const report = (f: Finding): void => this.#report(f)
    this.#decoder = new Decoder(rig, (o) => this.#show(o))
    this.#watches = createWatches(rig, scenario, report)
    this.#trace = new TraceFold(rig.joints.length)
    const all = [new ReportedTroubles(report), ...this.#watches.list.map((w) => w.watch), this.#trace]
    const seers = new Map<ObservationKind, Seer[]>()
    for (const seer of all) for (const kind of seer.kinds) seers.set(kind, [...(seers.get(kind) ?? []), seer])
    this.#seers = seers
  }

  /** A frame of a bus, by the bus's index in the rig: handed over (`sent`) or received at `t`. */
  frame(bus: number, frame: Frame, t: Nanos, sent: boolean): void {
    if (this.#busy) {
      this.#waiting.push(() => this.#decode(bus, frame, t, sent))
      return
    }
    this.#busy = true
    this.#decode(bus, frame, t, sent)
    this.#catchUp()
  }

  event(e: BenchEvent): void {
    if (this.#busy) {
      this.#waiting.push(() => this.#take(e))
      return
    }
    this.#busy = true
    this.#take(e)
    this.#catchUp()
  }

  /** Evidence from beside the recording, before `close`. */
  add(finding: Finding): void {
    this.#mark(finding.t)
    this.#report(finding)
  }

  /** The run is over. Called once. */
  close(): Judgement {
    this.#closed = true
    for (const { watch } of this.#watches.list) watch.close()
    const { toStill, moved, unseen } = this.#watches.stopping
    const failures = this.#findings.filter((f) => f.severity === 'failure')
    const facts: RunFacts = {
      rig: this.#rig,
      scenario: this.#scenario,
      zero: this.#zero,
      played: this.#played,
      last: this.#last,
      begun: this.#begun,
      ended: this.#ended,
      stop: this.#stop === null ? null : { ...this.#stop, escalation: this.#escalation, toStill },
      stops: this.#stops,
      moved,
      unseen,
      strokes: this.#watches.sense.strokes,
      failures,
      moreFailures: this.#more.failure,
      lost: this.#lost,
      benchFault: this.#watches.timing.fault,
    }
    const held = holdAgainst(facts)
    const doubts = this.#findings.filter((f) => f.severity === 'doubt')
    const warnings = this.#warnings + this.#more.warning
    const { outcome, sentence } = outcomeOf(facts, held, doubts, warnings)
    const verdict: Verdict = {
      format: 'drystroke-verdict-1',
      outcome,
      sentence,
      rig: this.#rig.name,
      scenario: this.#scenario.name,
      seed: this.#seed,
      length: this.#first === null ? 0 : this.#last - this.#first,
      zero: this.#zero,
      ended: this.#ended,
      expectations: held.rows.map((r) => r.row),
      stop: facts.stop,
      findings: this.#findings.toSorted((a, b) => a.t - b.t),
      moreFindings: this.#more.warning + this.#more.failure + this.#more.doubt,
      watches: this.#watches.list
        .filter(({ watch }) => watch.seen !== false)
        .map(({ name, watch }) => ({ watch: name, figures: watch.figures() })),
      cautions: [...cautionsFor(this.#rig, this.#standIn, this.#scenario.plant), ...this.#watches.load.notes],
    }
    return { verdict, trace: this.#trace.close(), stages: this.#stages }
  }

  #catchUp(): void {
    for (let next = this.#waiting.shift(); next !== undefined; next = this.#waiting.shift()) next()
    this.#busy = false
  }

  #decode(bus: number, frame: Frame, t: Nanos, sent: boolean): void {
    this.#mark(t)
    if (this.#lost) return
    this.#decoder.see(bus, frame, t, sent)
  }

  #take(e: BenchEvent): void {
    // Recorded findings are for readers of the file: here they are worked out anew.
    if (e.kind === 'finding') return
    this.#mark(e.t)
    if (e.kind === 'begin') {
      this.#seed = e.seed
      this.#begun = true
    } else if (e.kind === 'stage') this.#enter(e.stage, e.t)
    else if (e.kind === 'arms') this.#standIn = true
    else if (e.kind === 'end') this.#ended = e.reason
    else if (e.kind === 'stop') {
      this.#stops++
      const { source, place, category, t, says } = e
      this.#stop ??= { source, place, category, t, says }
    } else if (e.kind === 'escalation' && this.#stops === 1) {
      const { source, place, category, t, says } = e
      this.#escalation ??= { source, place, category, t, says }
    }
    this.#show(e)
  }

  #mark(t: Nanos): void {
    this.#first ??= t
    if (t > this.#last) this.#last = t
  }

  #enter(stage: Stage, t: Nanos): void {
    this.#stages.push({ stage, t })
    if (stage === 'play') this.#zero ??= t
    else if (stage === 'park') this.#played ??= t
  }

  #show(o: Observation): void {
    // Behind a gap watches would take what was not recorded for what the arms did not do.
    if (this.#lost) return
    if (o.kind === 'lost') this.#lost = true
    const seers = this.#seers.get(o.kind)
    if (seers === undefined) return
    for (let i = 0; i < seers.length; i++) seers[i]!.see(o)
  }

  #report(found: Finding): void {
    // Nor does a run whose records have a gap show what it was left with.
    const f: Finding =
      this.#closed && this.#lost && found.severity === 'failure' ? { ...found, severity: 'doubt' } : found
    const warning = f.severity === 'warning'
    const room = this.#findings.length < MOST_FINDINGS && !(warning && this.#warnings >= MOST_WARNINGS)
    if (room) {
      this.#findings.push(f)
      if (warning) this.#warnings++
    } else this.#more[f.severity]++
    if (!this.#closed) this.#onFinding?.(f)
  }
}
