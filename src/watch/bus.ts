/**
 * How each bus keeps up: what its controller reports (bus-trouble.ts), load from exact frame lengths, SYNC periods, feedback frames lost, doubled and late, frames that
 * the rig does not explain, and a second sender of what only the harness may send.
 *
 * Load is taken over one second that slides in steps of 10 ms. A gap in a joint's feedback that never ends is the silence watch's matter.
 * Nothing is counted from a stop to a new start.
 */
import type { Nanos } from '../clock.js'
import type { Figure, Stage } from '../files/event.js'
import type { ShownUnit } from '../units.js'
import { Alarm } from './alarm.js'
import { BusTroubles } from './bus-trouble.js'
import { FeedbackCount } from './feedback-count.js'
import { Histogram } from './histogram.js'
import { Operational } from './operational.js'
import type { WatchSettings } from './settings.js'
import { SlidingSum } from './sliding-sum.js'
import type { Observation, Watch, WatchContext } from './watch.js'

/** What can be wrong with feedback frames, in the words of the finding. */
const FEEDBACK = {
  lost: 'were lost',
  doubled: 'came twice',
  late: 'came only after the next SYNC',
} as const

interface BusState {
  readonly recent: SlidingSum
  bits: number
  first: Nanos
  last: Nanos
  readonly periods: Histogram
  readonly deviations: Histogram
  periodSum: number
  lastSync: Nanos
  lastIndex: number
  strange: number
  /** Frames that somebody else sent in our place, and their identifiers as far as told since the start-up. */
  foreign: number
  readonly told: Set<number>
}

export class BusWatch implements Watch {
  readonly kinds = ['frame', 'sync', 'feedback', 'strange', 'foreign', 'nmt', 'stage', 'stop', 'bus'] as const
  readonly #c: WatchContext<WatchSettings['bus']>
  readonly #operational: Operational
  readonly #buses: BusState[]
  readonly #troubles: BusTroubles
  readonly #load: Alarm
  readonly #period: Alarm
  readonly #bitrates: number[]
  /** SYNC index of each joint's last feedback, -1: none to count from */
  readonly #counts: readonly FeedbackCount[]
  #counting = true
  /** A stop takes what waits in our queue with it, a SYNC too: while it is proven nobody answers that one, and nothing is lost. */
  #proving = false
  #skew: Nanos = 0
  #t: Nanos = 0

  constructor(context: WatchContext<WatchSettings['bus']>) {
    this.#c = context
    const { rig } = context
    this.#operational = new Operational(rig)
    this.#buses = rig.buses.map(() => ({
      recent: new SlidingSum(1e9, 1e7),
      bits: 0,
      first: Number.NaN,
      last: 0,
      periods: new Histogram(),
      deviations: new Histogram(),
      periodSum: 0,
      lastSync: Number.NaN,
      lastIndex: -1,
      strange: 0,
      foreign: 0,
      told: new Set<number>(),
    }))
    this.#troubles = new BusTroubles(context)
    this.#bitrates = rig.buses.map((b) => b.bitrate)
    this.#load = new Alarm(rig.buses.length)
    this.#period = new Alarm(rig.buses.length)
    this.#counts = rig.joints.map(() => new FeedbackCount())
  }

  see(o: Observation): void {
    switch (o.kind) {
      case 'frame':
        this.#t = o.t
        this.#frame(o.bus, o.bits, o.t)
        return
      case 'feedback':
        if (this.#counting && !this.#proving) this.#counts[o.joint]!.see(o.index)
        return
      case 'sync':
        this.#sync(o.bus, o.index, o.t)
        return
      case 'strange':
        this.#strange(o.bus, o.id, o.t)
        return
      case 'foreign':
        this.#foreign(o.bus, o.id, o.t)
        return
      case 'bus': {
        const b = this.#troubles.see(o)
        // A SYNC that could not go out is told by its cause.
        if (b >= 0 && this.#troubles.isFailing(b)) this.#buses[b]!.lastSync = Number.NaN
        return
      }
      case 'nmt':
        for (const j of this.#operational.nmt(o.bus, o.node, o.command)) this.#counts[j]!.begin()
        return
      case 'stop':
        this.#counting = false
        return
      case 'stage':
        this.#enter(o.stage)
        return
    }
  }

  close(): void {
    this.#shares('lost')
    this.#shares('doubled')
    this.#shares('late')
    const { period } = this.#c.rig.control
    const limit = this.#c.settings.period * period
    this.#buses.forEach((bus, b) => {
      const p99 = bus.deviations.quantile(0.99)
      if (p99 > limit) this.#offPeriod(b, 'failure', p99, this.#t, 'One SYNC in a hundred')
    })
  }

  figures(): Figure[] {
    const { rig, settings } = this.#c
    const row = (
      place: string,
      name: string,
      value: number,
      unit: ShownUnit,
      limit: number | null,
    ): Figure => ({
      place,
      name,
      value,
      unit,
      limit,
    })
    const buses = this.#buses.flatMap((bus, b) => {
      const { name, bitrate } = rig.buses[b]!
      const time = (bus.last - bus.first) / 1e9
      return [
        row(
          name,
          'load, whole run',
          time > 0 ? bus.bits / (bitrate * time) : 0,
          'share',
          settings.load.limit,
        ),
        row(name, 'load, busiest second', bus.recent.peak / bitrate, 'share', settings.load.limit),
        row(
          name,
          'SYNC period, mean',
          bus.periods.count > 0 ? bus.periodSum / bus.periods.count : 0,
          's',
          null,
        ),
        row(
          name,
          'SYNC period, 99 %',
          bus.periods.quantile(0.99),
          's',
          (1 + settings.period) * rig.control.period,
        ),
        row(name, 'SYNC period, longest', bus.periods.max, 's', null),
        row(name, 'strange frames', bus.strange, 'count', 0),
        row(name, 'frames of a second sender', bus.foreign, 'count', 0),
        ...this.#troubles.figures(b),
      ]
    })
    const skew =
      rig.buses.length > 1 ? [row('', 'SYNC skew between buses, greatest', this.#skew / 1e9, 's', null)] : []
    const joints = rig.joints.flatMap(({ name, index: j }) =>
      (['lost', 'doubled', 'late'] as const).map((what) =>
        row(name, `feedback ${what}`, this.#counts[j]!.share(what), 'share', settings[what]),
      ),
    )
    return [...buses, ...skew, ...joints]
  }

  #enter(stage: Stage): void {
    this.#proving = stage === 'prove'
    if (stage !== 'setup' && stage !== 'seed') return
    // A new start is stopped anew by whoever sends still.
    if (!this.#counting) for (const bus of this.#buses) bus.told.clear()
    if (stage === 'setup') this.#troubles.restart()
    // SYNC may pause while drives are set up.
    this.#counting = true
    for (const count of this.#counts) count.begin()
    for (const bus of this.#buses) bus.lastSync = Number.NaN
  }

  #frame(b: number, bits: number, t: Nanos): void {
    const bus = this.#buses[b]!
    if (Number.isNaN(bus.first)) bus.first = t
    bus.last = t
    bus.bits += bits
    if (!bus.recent.add(bits, t)) return
    const { settings, rig } = this.#c
    const load = bus.recent.sum / this.#bitrates[b]!
    const level = load > settings.load.limit ? 2 : load > settings.load.warning ? 1 : 0
    if (!this.#load.rises(b, level, t)) return
    this.#c.report({
      severity: level === 2 ? 'failure' : 'warning',
      place: rig.buses[b]!.name,
      t,
      quantity: 'load',
      value: load,
      limit: level === 2 ? settings.load.limit : settings.load.warning,
      unit: 'share',
      says: 'The bus carried more than it should over one second.',
      why: 'On a full bus feedback and stop frames wait behind others.',
      look: 'Look for nodes that send more than their PDOs, then at control rate and bit rate.',
      stop: null,
    })
  }

  #sync(b: number, index: number, t: Nanos): void {
    const bus = this.#buses[b]!
    const { period } = this.#c.rig.control
    if (!Number.isNaN(bus.lastSync)) {
      const taken = (t - bus.lastSync) / 1e9
      const off = Math.abs(taken - period)
      bus.periods.add(taken)
      bus.deviations.add(off)
      bus.periodSum += taken
      const bad = off > this.#c.settings.period * period
      if (this.#period.rises(b, bad ? 1 : 0, t)) this.#offPeriod(b, 'warning', off, t, 'A SYNC')
    }
    bus.lastSync = this.#troubles.isFailing(b) ? Number.NaN : t
    bus.lastIndex = index
    const first = this.#buses[0]!
    if (b > 0 && first.lastIndex === index) this.#skew = Math.max(this.#skew, Math.abs(t - first.lastSync))
  }

  #strange(b: number, id: number, t: Nanos): void {
    const bus = this.#buses[b]!
    bus.strange++
    if (bus.strange > 1) return
    this.#c.report({
      severity: 'warning',
      place: this.#c.rig.buses[b]!.name,
      t,
      quantity: 'strange frame',
      value: id,
      limit: 0,
      unit: 'none',
      says: `The bus carries frames that the rig does not explain; the first has the identifier ${hex(id)}.`,
      why: 'Somebody else on the bus, or a drive that is set up otherwise, may disturb what was measured.',
      look: "Look which node sends this identifier, and whether the rig's node ids are right.",
      stop: null,
    })
  }

  #foreign(b: number, id: number, t: Nanos): void {
    const { rig } = this.#c
    const bus = this.#buses[b]!
    bus.foreign++
    if (bus.told.has(id)) return
    bus.told.add(id)
    this.#c.report({
      severity: 'failure',
      place: rig.buses[b]!.name,
      t,
      quantity: 'second sender',
      value: id,
      limit: 0,
      unit: 'none',
      says: `Somebody else sent a frame with the identifier ${hex(id)}, which only the harness may send.`,
      why: 'With a second master on the bus the drives obey whoever spoke last, and no stop is sure.',
      look: 'Look for another controller, a tool of the drives or a second bench on this bus, and take it off.',
      stop: rig.stop.category,
    })
  }

  #offPeriod(b: number, severity: 'warning' | 'failure', off: number, t: Nanos, what: string): void {
    const { rig, settings } = this.#c
    this.#c.report({
      severity,
      place: rig.buses[b]!.name,
      t,
      quantity: 'SYNC period',
      value: off,
      limit: settings.period * rig.control.period,
      unit: 's',
      says: `${what} was off its time by more than permitted.`,
      why: 'Drives interpolate over one period: an uneven SYNC makes uneven motion.',
      look: "Look at the machine's load and at the priority that the loop was granted.",
      stop: null,
    })
  }

  /** Each joint that is beyond the limit; of those within it only the worst, because what they have in common is one cause. */
  #shares(what: keyof typeof FEEDBACK): void {
    const limit = this.#c.settings[what]
    const share = (j: number): number => this.#counts[j]!.share(what)
    const seen = this.#c.rig.joints.filter(({ index: j }) => share(j) > 0)
    const within = seen.filter(({ index: j }) => share(j) <= limit)
    for (const joint of seen.filter((each) => !within.includes(each)))
      this.#tellShare(joint.name, what, share(joint.index), 1)
    const worst = within.toSorted((a, b) => share(b.index) - share(a.index))[0]
    if (worst) this.#tellShare(worst.name, what, share(worst.index), within.length)
  }

  /** @param joints this one, and those that show the same within the limit, less of it */
  #tellShare(place: string, what: keyof typeof FEEDBACK, share: number, joints: number): void {
    const limit = this.#c.settings[what]
    this.#c.report({
      severity: share > limit ? 'failure' : 'warning',
      place,
      t: this.#t,
      quantity: `feedback ${what}`,
      value: share,
      limit,
      unit: 'share',
      says:
        joints === 1
          ? `Feedback frames of this joint ${FEEDBACK[what]}.`
          : `Feedback frames of ${joints} joints ${FEEDBACK[what]}, of this one most.`,
      why: 'With frames lost, doubled or late, speeds and errors are known less well than the figures say.',
      look: "Look at cable, plugs and termination, then at the bus's load.",
      stop: null,
    })
  }
}

const hex = (id: number): string => `${id.toString(16).toUpperCase().padStart(3, '0')}h`
