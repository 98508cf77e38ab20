/**
 * Age of each joint's feedback and of each drive's heartbeat.
 *
 * Feedback answers a SYNC, so it ages only while a SYNC waits for its answer: a bench that pauses SYNC on purpose hears
 * nothing and nothing is wrong. The same holds for a node that NMT has taken out of operational. A joint that was
 * never seen is another finding than one that was lost: the first points at wiring and node ids, the second at a break. Feedback that comes
 * again when it had been missed for too long is told too: what holds frames back lets them go just before the next look.
 * From a stop to the seeding of a new start this watch only keeps its figures: what is lost then is missing evidence, and the stopping
 * watch says so. Heartbeats are watched from the first one on that is no boot-up message (CiA 301, 7.2.8.3.2.2); a started
 * node that never sends one is told apart too. A boot-up message that no NMT command of ours explains is no heartbeat.
 */
import type { Nanos } from '../clock.js'
import type { Figure } from '../files/event.js'
import { Alarm } from './alarm.js'
import { BusHealth } from './bus-health.js'
import { jointsByBus, Operational } from './operational.js'
import type { WatchSettings } from './settings.js'
import type { Observation, Watch, WatchContext } from './watch.js'

/** A SYNC that comes this many periods after the last answer follows a pause: the age counts from the SYNC. */
const PAUSE = 1.5
/** Times are whole nanoseconds, periods need not be. */
const GRACE: Nanos = 500
/** Part of a period by which two answers may be later and earlier than others: between them lies a whole number of periods, and that. */
const JITTER = 0.05

export class SilenceWatch implements Watch {
  readonly kinds = [
    'sync',
    'tick',
    'feedback',
    'heartbeat',
    'nmt',
    'stage',
    'stop',
    'escalation',
    'bus',
  ] as const
  readonly #c: WatchContext<WatchSettings['silence']>
  readonly #operational: Operational
  readonly #health: BusHealth
  readonly #joints: number[][]
  /** ns; NaN = never seen */
  readonly #last: Float64Array
  /** ns, when the first SYNC that is not answered yet went out; NaN = all are answered */
  readonly #asked: Float64Array
  /** ns, from when on a first feedback is waited for; NaN = not yet */
  readonly #awaited: Float64Array
  readonly #oldest: Float64Array
  readonly #missed: Float64Array
  /** ns; NaN = not watched */
  readonly #heartbeat: Float64Array
  /** ns, from when on a first heartbeat is waited for; NaN = not yet */
  readonly #beatAwaited: Float64Array
  readonly #oldestHeartbeat: Float64Array
  readonly #alarms: Readonly<Record<'lost' | 'unseen' | 'heartbeat' | 'noHeartbeat', Alarm>>
  readonly #limit: Nanos
  readonly #heartbeatLimit: Nanos
  readonly #pause: Nanos
  readonly #jitter: Nanos
  #stopped = false
  #ticked: Nanos = Number.NaN

  constructor(context: WatchContext<WatchSettings['silence']>) {
    this.#c = context
    const { rig, settings } = context
    const n = rig.joints.length
    this.#operational = new Operational(rig)
    this.#health = new BusHealth(rig)
    this.#joints = jointsByBus(rig)
    this.#last = new Float64Array(n).fill(Number.NaN)
    this.#asked = new Float64Array(n).fill(Number.NaN)
    this.#awaited = new Float64Array(n).fill(Number.NaN)
    this.#oldest = new Float64Array(n)
    this.#missed = new Float64Array(n)
    this.#heartbeat = new Float64Array(n).fill(Number.NaN)
    this.#beatAwaited = new Float64Array(n).fill(Number.NaN)
    this.#oldestHeartbeat = new Float64Array(n)
    this.#alarms = {
      lost: new Alarm(n),
      unseen: new Alarm(n),
      heartbeat: new Alarm(n),
      noHeartbeat: new Alarm(n),
    }
    this.#limit = settings.periods * rig.control.period * 1e9
    this.#heartbeatLimit = settings.heartbeats * rig.link.driveHeartbeat * 1e9
    this.#pause = PAUSE * rig.control.period * 1e9
    this.#jitter = JITTER * rig.control.period * 1e9
  }

  see(o: Observation): void {
    switch (o.kind) {
      case 'feedback':
        this.#back(o.joint, o.t)
        this.#last[o.joint] = o.t
        this.#asked[o.joint] = Number.NaN
        return
      case 'bus':
        this.#health.see(o)
        return
      case 'sync':
        for (const j of this.#joints[o.bus]!) this.#sync(j, o.t)
        return
      case 'tick':
        this.#ticked = o.t
        for (let j = 0; j < this.#last.length; j++) this.#check(j, o.t)
        return
      case 'heartbeat':
        if (o.joint >= 0) this.#beat(o.joint, o.state === 'boot-up', o.t)
        return
      case 'nmt':
        for (const j of this.#operational.nmt(o.bus, o.node, o.command)) {
          const off = this.#operational.isOff(j)
          this.#asked[j] = Number.NaN
          this.#awaited[j] = this.#beatAwaited[j] = off ? Number.NaN : o.t
          // A reset node boots, and is configured anew before it beats again.
          if (o.command === 'reset node' || o.command === 'reset communication')
            this.#heartbeat[j] = Number.NaN
        }
        return
      case 'stop':
      case 'escalation':
        // A held stop rests on feedback as operation does.
        this.#stopped = o.category !== 2
        return
      case 'stage':
        // Not in set-up already: what broke since the stop is set up anew there.
        if (o.stage === 'seed') this.#stopped = false
        if (o.stage !== 'enable') return
        for (let j = 0; j < this.#awaited.length; j++)
          if (Number.isNaN(this.#awaited[j]!)) this.#awaited[j] = o.t
        return
    }
  }

  close(): void {}

  figures(): Figure[] {
    return this.#c.rig.joints.flatMap(({ name: place, index: j, wire }): Figure[] => {
      const rows: Figure[] = [
        {
          place,
          name: 'oldest feedback',
          value: this.#oldest[j]! / 1e9,
          unit: 's',
          limit: this.#limit / 1e9,
        },
        { place, name: 'SYNC without answer', value: this.#missed[j]!, unit: 'count', limit: null },
      ]
      // A drive that speaks a frame map has no heartbeat: a figure of 0 ms would look like a good one.
      if (wire.protocol === 'frames') return rows
      const [value, limit] = [this.#oldestHeartbeat[j]! / 1e9, this.#heartbeatLimit / 1e9]
      return [...rows, { place, name: 'oldest heartbeat', value, unit: 's', limit }]
    })
  }

  #sync(j: number, t: Nanos): void {
    if (this.#operational.isOff(j)) return
    this.#check(j, t)
    if (Number.isNaN(this.#asked[j]!)) this.#asked[j] = t
    else if (!Number.isNaN(this.#last[j]!)) this.#missed[j] = this.#missed[j]! + 1
  }

  /** ns; takes note of the age at `t`. */
  #age(j: number, t: Nanos): Nanos {
    const asked = this.#asked[j]!
    const last = this.#last[j]!
    if (Number.isNaN(asked) || Number.isNaN(last)) return 0
    const age = t - (asked - last > this.#pause ? asked : last)
    if (age > this.#oldest[j]!) this.#oldest[j] = age
    return age
  }

  #check(j: number, t: Nanos): void {
    if (this.#operational.isOff(j)) return
    if (Number.isNaN(this.#last[j]!)) this.#checkUnseen(j, t)
    else {
      const age = this.#age(j, t)
      const lost = this.#isHeardOf(j) && age > this.#limit + GRACE
      if (this.#alarms.lost.rises(j, lost ? 2 : 0, t)) this.#lost(j, age, t)
    }
    this.#checkHeartbeat(j, t)
  }

  /** Feedback has come; how long nobody had any is known now. */
  #back(j: number, t: Nanos): void {
    const age = this.#age(j, t)
    if (age <= this.#limit + this.#jitter || !this.#isHeardOf(j)) return
    // A bench that stood still itself hears late what came in time: that is the timing watch's matter.
    if (!(t - this.#ticked <= this.#pause)) return
    if (this.#alarms.lost.rises(j, 2, t)) this.#late(j, age, t)
  }

  /** A bus that is lost is the bus watch's matter: one finding, not one a joint. */
  #isHeardOf(j: number): boolean {
    return !this.#stopped && !this.#health.isDeaf(this.#c.rig.joints[j]!.wire.bus)
  }

  #checkHeartbeat(j: number, t: Nanos): void {
    const beat = this.#heartbeat[j]!
    if (Number.isNaN(beat)) {
      const waited = t - this.#beatAwaited[j]!
      const absent = this.#isHeardOf(j) && waited > this.#c.settings.patience * 1e9
      if (this.#alarms.noHeartbeat.rises(j, absent ? 2 : 0, t)) this.#noHeartbeat(j, waited, t)
      return
    }
    const silent = this.#isHeardOf(j) && t - beat > this.#heartbeatLimit + GRACE
    if (t - beat > this.#oldestHeartbeat[j]!) this.#oldestHeartbeat[j] = t - beat
    if (this.#alarms.heartbeat.rises(j, silent ? 2 : 0, t)) this.#silent(j, t - beat, t)
  }

  #beat(j: number, bootUp: boolean, t: Nanos): void {
    // The boot-up of a node that was started is a restart (the drive watch says so): its heartbeat has ceased.
    if (bootUp && this.#operational.isStarted(j)) return
    const last = this.#heartbeat[j]!
    if (!Number.isNaN(last) && t - last > this.#oldestHeartbeat[j]!) this.#oldestHeartbeat[j] = t - last
    this.#heartbeat[j] = bootUp ? Number.NaN : t
  }

  #checkUnseen(j: number, t: Nanos): void {
    const { rig, settings } = this.#c
    const waited = t - this.#awaited[j]!
    const unseen = this.#isHeardOf(j) && waited > settings.patience * 1e9
    if (!this.#alarms.unseen.rises(j, unseen ? 2 : 0, t)) return
    this.#c.report({
      severity: 'failure',
      place: rig.joints[j]!.name,
      t,
      quantity: 'never seen',
      value: waited / 1e9,
      limit: settings.patience,
      unit: 's',
      says: 'No feedback of this joint has come since its node was started.',
      why: 'A joint that was never seen is watched by nobody.',
      look: 'Look at power, wiring and node id of the drive, and at its PDO set-up.',
      stop: rig.stop.category,
    })
  }

  #lost(j: number, age: Nanos, t: Nanos): void {
    const { rig } = this.#c
    const { bus } = rig.joints[j]!.wire
    const mates = this.#joints[bus]!
    const all = mates.length > 1 && mates.every((mate) => this.#isLate(mate, t))
    // One cause, one finding.
    if (all) for (const mate of mates) this.#alarms.lost.rises(mate, 2, t)
    this.#c.report({
      severity: 'failure',
      place: all ? rig.buses[bus]!.name : rig.joints[j]!.name,
      t,
      quantity: 'feedback age',
      value: age / 1e9,
      limit: this.#limit / 1e9,
      unit: 's',
      says: all
        ? 'The feedback of every joint on this bus has ceased.'
        : 'The feedback of this joint has ceased.',
      why: 'Without feedback nobody knows where the blade is.',
      look: all
        ? 'Look at the plug of the adapter, the power of the drives and the cable between them.'
        : "Look at the cable and the plug of this drive, then at the bus's load and error counters.",
      stop: rig.stop.category,
    })
  }

  #late(j: number, age: Nanos, t: Nanos): void {
    const { rig } = this.#c
    this.#c.report({
      severity: 'failure',
      place: rig.joints[j]!.name,
      t,
      quantity: 'feedback age',
      value: age / 1e9,
      limit: this.#limit / 1e9,
      unit: 's',
      says: 'For so long no feedback of this joint came; then it came again.',
      why: 'Without feedback nobody knows where the blade is.',
      look: 'Look for an adapter that hands its frames over in batches, then at lost frames, plugs and the load of the bus.',
      stop: rig.stop.category,
    })
  }

  #isLate(j: number, t: Nanos): boolean {
    return !this.#operational.isOff(j) && this.#age(j, t) > this.#limit + GRACE
  }

  #silent(j: number, age: Nanos, t: Nanos): void {
    const { rig } = this.#c
    this.#c.report({
      severity: 'failure',
      place: rig.joints[j]!.name,
      t,
      quantity: 'heartbeat age',
      value: age / 1e9,
      limit: this.#heartbeatLimit / 1e9,
      unit: 's',
      says: 'The heartbeat of this drive has ceased.',
      why: 'A node without heartbeat may have lost power or have started anew.',
      look: 'Look at the supply of this drive, then at its heartbeat set-up (1017h).',
      stop: rig.stop.category,
    })
  }
  #noHeartbeat(j: number, waited: Nanos, t: Nanos): void {
    const { rig, settings } = this.#c
    this.#c.report({
      severity: 'failure',
      place: rig.joints[j]!.name,
      t,
      quantity: 'heartbeat never seen',
      value: waited / 1e9,
      limit: settings.patience,
      unit: 's',
      says: 'No heartbeat of this drive has come since its node was started.',
      why: 'Without a heartbeat nobody notices that a node has left operational or has started anew.',
      look: 'Look at the heartbeat set-up of this drive (1017h).',
      stop: rig.stop.category,
    })
  }
}
