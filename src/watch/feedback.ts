/**
 * What the feedback of each joint is made of: is it this joint's, with its sign, scale and zero, and is it feedback at all?
 *
 * Held against the true position where somebody sees the arms (simulated ones), and against the setpoints while the arms are led: on real
 * arms only that can be seen. There a sign, scale or zero that setpoints and feedback share hides, and needs a human eye; what they do
 * not share, a joint of another plug, an echo and a leap do not hide. Frame by frame: leaps (feedback-leap.ts), kinks (feedback-kink.ts) and
 * echo (echo.ts). When feedback stays off: what it is like (feedback-suspects.ts). Over some strokes: scale, against the truth. Over a run that
 * went to its end: scale and offset (running-line.ts).
 *
 * What a limit stopped the run for is looked at for a little longer: only the frames after it show that the joint did not do what it looked like.
 *
 * Bounds that other watches have for the same thing are theirs: `sense.witness`, `tracking.window`, `tracking.timeout`, `tracking.lag.most`.
 */
import type { Nanos } from '../clock.js'
import type { Figure, Finding, Stage, StopCategory } from '../files/event.js'
import { ECHO_BACK, Echo } from './echo.js'
import {
  type Against,
  besideOverRun,
  echoed,
  kinked,
  leapt,
  scaledOverRun,
  suspected,
  swappedArms,
} from './feedback-findings.js'
import { FeedbackHistory } from './feedback-history.js'
import { FeedbackKink } from './feedback-kink.js'
import { FeedbackLeap } from './feedback-leap.js'
import { FeedbackSuspects } from './feedback-suspects.js'
import { RunningLine } from './running-line.js'
import { Setpoints } from './setpoints.js'
import type { WatchSettings } from './settings.js'
import { isOperation } from './tracking.js'
import type { Observation, Watch, WatchContext } from './watch.js'

/** Ticks by which feedback in the history is behind the true position, at most. */
const LATE = 2
/** Part of what counts as off that an explanation may be off itself. */
const FIT = 1 / 4
/** Motion, in multiples of `motion`, from which the scale over a run is told. */
const WIDE = 3
/** Rows that the means of a run must be made of. */
const LEAST_ROWS = 100
/** s over which the scale is told while the run goes on: a stroke or more, so that what feedback is late by comes out even. */
const STROKES = 4
/** Periods after a stop in which a kink may have begun, and in which it may be confirmed. */
const BEGUN = 4
const CONFIRMED = 20

/** What the watches beside this one call off, and for how long. */
export interface FeedbackBounds {
  readonly sense: Pick<WatchSettings['sense'], 'witness'>
  readonly tracking: Pick<WatchSettings['tracking'], 'window' | 'timeout'> & {
    readonly lag: Pick<WatchSettings['tracking']['lag'], 'most'>
  }
}

export class FeedbackWatch implements Watch {
  readonly kinds = ['feedback', 'setpoint', 'tick', 'stage', 'stop', 'end'] as const
  readonly #c: WatchContext<WatchSettings['feedback']>
  readonly #bounds: FeedbackBounds
  readonly #setpoints: Setpoints
  readonly #leap: FeedbackLeap
  readonly #kink: FeedbackKink
  readonly #echo: Echo
  readonly #history: FeedbackHistory
  readonly #truth: FeedbackSuspects
  readonly #led: FeedbackSuspects
  readonly #true: RunningLine
  /** The same since the scale was looked at last. */
  readonly #lately: RunningLine
  readonly #asked: RunningLine
  /** rad, last feedback and setpoint of each joint; NaN: none yet */
  readonly #position: Float64Array
  readonly #setpoint: Float64Array
  readonly #leaps: Float64Array
  readonly #echoes: Uint8Array
  readonly #kinks: Uint8Array
  readonly #scaled: Uint8Array
  /** ns: when arms that were led were stopped; not a number: they are led, or were not */
  #stoppedAt: Nanos = Number.NaN
  /** Periods. */
  readonly #most: number
  readonly #timeout: number
  #seen: readonly number[] | null = null
  #seenBefore: readonly number[] | null = null
  #operating = false
  #stopped = false
  #everStopped = false
  #everLed = false
  #t: Nanos = 0

  constructor(context: WatchContext<WatchSettings['feedback']>, bounds: FeedbackBounds) {
    this.#c = context
    this.#bounds = bounds
    const { rig, settings } = context
    const n = rig.joints.length
    const { period } = rig.control
    const { sense, tracking } = bounds
    this.#most = Math.ceil(tracking.lag.most / period)
    this.#timeout = Math.ceil(tracking.timeout / period - 1e-9) + 1
    this.#setpoints = new Setpoints(n, Math.max(this.#most + 2, ECHO_BACK))
    this.#leap = new FeedbackLeap(rig, settings.leap)
    this.#kink = new FeedbackKink(rig)
    this.#echo = new Echo(
      this.#setpoints,
      rig.joints.map((j) => 1 / j.wire.countsPerRadian),
    )
    const history = new FeedbackHistory(n)
    this.#history = history
    const { motion } = settings
    this.#truth = new FeedbackSuspects(rig, history, 'true position', {
      tolerance: FIT * sense.witness,
      motion,
      lags: LATE,
      atRest: true,
    })
    this.#led = new FeedbackSuspects(rig, history, 'setpoint', {
      tolerance: FIT * tracking.window,
      motion,
      lags: this.#most + LATE,
      atRest: false,
    })
    this.#true = new RunningLine(n)
    this.#lately = new RunningLine(n)
    this.#asked = new RunningLine(n)
    this.#position = new Float64Array(n).fill(Number.NaN)
    this.#setpoint = new Float64Array(n).fill(Number.NaN)
    this.#leaps = new Float64Array(n)
    this.#echoes = new Uint8Array(n)
    this.#kinks = new Uint8Array(n)
    this.#scaled = new Uint8Array(n)
  }

  see(o: Observation): void {
    switch (o.kind) {
      case 'feedback':
        this.#t = o.t
        this.#feedback(o.joint, o.index, o.position, o.t)
        return
      case 'setpoint':
        this.#setpoints.put(o.joint, o.index, o.position)
        this.#setpoint[o.joint] = o.position
        return
      case 'tick':
        this.#t = o.t
        this.#tick(o.witness)
        return
      case 'stage':
        this.#enter(o.stage)
        return
      case 'stop':
        if (this.#operating) {
          this.#stoppedAt = o.t
          this.#echo.stopped()
        }
        this.#operating = false
        this.#stopped = true
        this.#everStopped = true
        return
      case 'end':
        this.#t = o.t
        return
    }
  }

  close(): void {
    // What broke shows itself when it breaks; a mean over a run that was stopped says nothing more.
    if (this.#everStopped) return
    const { rig, settings } = this.#c
    for (const { index: j } of rig.joints) {
      if (this.#true.count(j) >= LEAST_ROWS && !this.#truth.isTold(j)) {
        const offset = this.#true.apart(j)
        if (this.#scaled[j] === 1) continue
        if (this.#isWide(this.#true, j) && Math.abs(this.#true.slope(j) - 1) > settings.scale)
          this.#tell(j, 'failure', scaledOverRun(this.#true.slope(j), settings.scale, 'true position'), null)
        else if (Math.abs(offset) > settings.offset)
          this.#tell(j, 'failure', besideOverRun(offset, settings.offset), null)
      }
      if (!this.#isWide(this.#asked, j) || this.#led.isTold(j)) continue
      const ratio = this.#asked.ratio(j)
      const limit = this.#scaleLimit(j)
      // A drive may overshoot, or come short: on real arms this is a suspicion.
      if (Math.abs(ratio - 1) > limit) this.#tell(j, 'warning', scaledOverRun(ratio, limit, 'setpoint'), null)
    }
  }

  figures(): Figure[] {
    const { rig, settings } = this.#c
    return rig.joints.flatMap(({ name: place, index: j }): Figure[] => {
      const rows: Figure[] = [
        { place, name: 'leaps of feedback', value: this.#leaps[j]!, unit: 'count', limit: 0 },
        {
          place,
          name: 'samples that no motor could make, in a row',
          value: this.#echo.most[j]!,
          unit: 'count',
          limit: settings.echo,
        },
      ]
      if (this.#isWide(this.#asked, j)) {
        const value = Math.abs(this.#asked.ratio(j) - 1)
        rows.push({
          place,
          name: 'scale of feedback to setpoints, off by',
          value,
          unit: 'share',
          limit: this.#scaleLimit(j),
        })
      }
      if (this.#isWide(this.#true, j)) {
        const value = Math.abs(this.#true.slope(j) - 1)
        rows.push({
          place,
          name: 'scale of feedback to the truth, off by',
          value,
          unit: 'share',
          limit: settings.scale,
        })
      }
      if (this.#true.count(j) >= LEAST_ROWS) {
        const value = Math.abs(this.#true.apart(j))
        rows.push({
          place,
          name: 'feedback beside the truth, mean',
          value,
          unit: 'rad',
          limit: settings.offset,
        })
      }
      return rows
    })
  }

  #isWide(line: RunningLine, j: number): boolean {
    return line.count(j) >= LEAST_ROWS && line.span(j) >= WIDE * this.#c.settings.motion
  }

  /** Of the scale to setpoints: at the end of its range the joint may be off by the window of the following error. */
  #scaleLimit(j: number): number {
    return this.#c.settings.scale + this.#bounds.tracking.window / this.#asked.span(j)
  }

  #enter(stage: Stage): void {
    this.#operating = isOperation(stage)
    if (this.#operating) this.#stoppedAt = Number.NaN
    this.#everLed ||= this.#operating
    if (stage === 'seed') this.#stopped = false
    this.#echo.reset()
    if (this.#operating) this.#led.reset()
  }

  #feedback(j: number, index: number, position: number, t: Nanos): void {
    this.#position[j] = position
    const { rig, settings } = this.#c
    if (this.#leap.see(j, position, t)) {
      const { size, permitted, doubt } = this.#leap
      this.#leaps[j] = this.#leaps[j]! + 1
      if (this.#leaps[j] === 1)
        this.#tell(j, 'failure', leapt(rig, j, size, permitted, doubt), rig.stop.category)
      this.#kink.restart(j)
    }
    this.#kinked(j, index, position, t)
    if (this.#seen !== null) {
      const moved = this.#seenBefore === null ? 0 : Math.abs(this.#seen[j]! - this.#seenBefore[j]!)
      // A frame may be up to two periods older than what the eye sees.
      const off = Math.abs(position - this.#seen[j]!) > this.#bounds.sense.witness + LATE * moved
      this.#truth.sample(j, off)
    }
    if (!this.#operating || index < 0) return
    this.#led.sample(j, this.#isOffSetpoint(j, index, position))
    const samples = this.#echo.see(j, index, position)
    if (samples >= settings.echo) this.#echoed(j, Math.floor(samples), settings.echo)
  }

  #kinked(j: number, index: number, position: number, t: Nanos): void {
    const { rig } = this.#c
    const { period } = rig.control
    const after = this.#operating ? 0 : (t - this.#stoppedAt) / 1e9 / period
    if (!(after <= CONFIRMED) || index < 0) return
    if (after > 0 && this.#echo.stands(j, position, rig.joints[j]!.limits.acceleration * period ** 2))
      this.#echoed(j, 1, 0)
    const kink = this.#kink.see(j, index, position, t, after <= BEGUN)
    if (kink === null || this.#kinks[j] === 1 || this.#leaps[j]! > 0) return
    this.#kinks[j] = 1
    // An echo stands after a stop as well, and is told as that.
    if (this.#echoes[j] === 1) return
    this.#tell(j, 'failure', kinked(kink, this.#kink.value, this.#kink.limit), rig.stop.category)
  }

  #echoed(j: number, samples: number, limit: number): void {
    if (this.#echoes[j] === 1) return
    this.#echoes[j] = 1
    this.#tell(j, 'failure', echoed(samples, limit), this.#c.rig.stop.category)
  }

  /** The scale against the truth over the last strokes. */
  #scale(j: number): void {
    const { rig, settings } = this.#c
    const line = this.#lately
    if (line.count(j) * rig.control.period < STROKES) return
    const slope = line.slope(j)
    const off = this.#isWide(line, j) && Math.abs(slope - 1) > settings.scale
    line.restart(j)
    if (!off || this.#scaled[j] === 1 || this.#truth.isTold(j)) return
    this.#scaled[j] = 1
    this.#tell(j, 'failure', scaledOverRun(slope, settings.scale, 'true position', STROKES), null)
  }

  /** Beyond the window from every setpoint that the longest permitted lag could explain. */
  #isOffSetpoint(j: number, index: number, position: number): boolean {
    const { window } = this.#bounds.tracking
    const paired = this.#setpoints.paired(j, index)
    if (Number.isNaN(paired) || Math.abs(paired - position) <= window) return false
    for (let i = index - 1 - this.#most; i <= index; i++)
      if (Math.abs(this.#setpoints.at(j, i) - position) <= window) return false
    return true
  }

  #tick(seen: readonly number[] | null): void {
    const before = this.#seen
    this.#seenBefore = before
    this.#seen = seen
    // Once a stop is in force the arms are led no more: what there is of it must do.
    if (this.#stopped) this.#accuse(this.#led, 'setpoint', 1)
    this.#history.put(this.#setpoint, this.#position, seen, this.#operating)
    if (this.#operating) this.#compare(before)
    this.#accuse(this.#truth, 'true position', this.#stopped ? 1 : this.#timeout)
    if (this.#operating) this.#accuse(this.#led, 'setpoint', this.#timeout)
  }

  /** @param seen at the tick before, when the last feedback was sampled */
  #compare(seen: readonly number[] | null): void {
    for (let j = 0; j < this.#position.length; j++) {
      const position = this.#position[j]!
      if (Number.isNaN(position)) continue
      if (seen !== null) {
        this.#true.put(j, seen[j]!, position)
        this.#lately.put(j, seen[j]!, position)
        this.#scale(j)
      }
      const setpoint = this.#setpoint[j]!
      if (!Number.isNaN(setpoint)) this.#asked.put(j, setpoint, position)
    }
  }

  #accuse(suspects: FeedbackSuspects, against: Against, least: number): void {
    const { rig } = this.#c
    const { category } = rig.stop
    for (const s of suspects.search(least, this.#everLed)) {
      if ('arm' in s) {
        const words = swappedArms(rig.arms[s.arm]!.name, rig.arms[s.other]!.name)
        this.#c.report({
          ...words,
          severity: 'failure',
          place: rig.arms[s.arm]!.name,
          t: this.#t,
          stop: category,
        })
      } else if (against === 'true position' || !this.#truth.isTold(s.joint))
        this.#tell(s.joint, 'failure', suspected(rig, s.joint, s.cause, against), category)
    }
  }

  #tell(
    j: number,
    severity: Finding['severity'],
    words: ReturnType<typeof echoed>,
    stop: StopCategory | null,
  ): void {
    this.#c.report({ ...words, severity, place: this.#c.rig.joints[j]!.name, t: this.#t, stop })
  }
}
