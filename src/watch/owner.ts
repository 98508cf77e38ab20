/**
 * What a driver that owns the buses does there besides its setpoints, which other watches see: whether its SYNC goes on,
 * whether it leaves the drives' set-up alone while arms move, and whether it obeys a stop.
 *
 * From a stop on it may send SYNC and commands that take torque away, nothing else; for what was under way it is given
 * `obey`, which the quick stop does not wait for. An effect is given no time: a drive that is enabled again after it had lost
 * its torque, or a frame on the identifier of the stop, which only the harness sends on, is told at once. The same holds in
 * the proof of the stop path. Each asks for the stop anew, and the bench silences the driver's process before it goes out.
 *
 * Writes by SDO while arms may move are warned of; those to what a stop hangs on stop the arms. What was written before is not read.
 */
import type { Nanos } from '../clock.js'
import type { Figure, Finding, Stage } from '../files/event.js'
import { isOff } from '../wire/cia402/state.js'
import type { DriveCommand, ReportedState } from '../wire/observation.js'
import { Alarm } from './alarm.js'
import type { WatchSettings } from './settings.js'
import type { Observation, Watch, WatchContext } from './watch.js'

/** They take the torque away, or leave it away. */
const HARMLESS: ReadonlySet<DriveCommand | 'unknown'> = new Set(['quick stop', 'disable voltage', 'shutdown'])
/** Drives have their set-up, and SYNC is due, from the one on to the other. */
const SYNC_DUE: ReadonlySet<Stage> = new Set([
  ...(['seed', 'enable', 'prove', 'approach', 'play', 'park', 'disable', 'rest'] as const),
  ...(['stopping', 'stopped'] as const),
])
/** Arms may move. */
const IN_MOTION: ReadonlySet<Stage> = new Set(['approach', 'play', 'park'] as const)
/**
 * Whether a stop hangs on an object (CiA 301, CiA 402): the SYNC that is listened to, what the drive does when bus or heartbeat are
 * lost, how it stops and what it takes for a fault, its mode, and every receive PDO, that of the stop among them.
 */
const stopHangsOn = (index: number): boolean =>
  [0x1005, 0x1016, 0x1029, 0x6007, 0x6060, 0x6065, 0x6066, 0x6085].includes(index) ||
  (index >= 0x605a && index <= 0x605e) ||
  (index >= 0x1400 && index <= 0x17ff)
/** Times are whole nanoseconds, periods need not be. */
const GRACE: Nanos = 500

export class OwnerWatch implements Watch {
  readonly kinds
  /** The driver owns the buses: otherwise there is nothing to be said. */
  readonly seen: boolean
  readonly #c: WatchContext<WatchSettings['owner']>
  readonly #limit: Nanos
  readonly #obey: Nanos
  /** [bus] ns, of the last SYNC, or of the stage in which it became due; NaN: it is not */
  readonly #sync: Float64Array
  readonly #ceased: Alarm
  /** [joint] since the stop its drive 1: slows down, 2: has lost its torque */
  readonly #obeyed: Uint8Array
  /** [joint] 1: since the stop it has been told that its drive was enabled again */
  readonly #told: Uint8Array
  #longest: Nanos = 0
  /** ns, since when the driver is to be quiet; NaN: it is not */
  #quietSince: Nanos = Number.NaN
  #disobeyed = false
  #lastFrame: Nanos = 0
  #again = 0
  #stopped = false
  #inMotion = false
  #written = 0
  /** [joint] 1: told of a write in motion, 2: of one to what a stop hangs on */
  readonly #toldWritten: Uint8Array

  constructor(context: WatchContext<WatchSettings['owner']>) {
    this.#c = context
    const { rig, settings } = context
    this.seen = rig.buses.some(({ owner }) => owner === 'driver')
    this.kinds = this.seen
      ? (['sync', 'tick', 'setpoint', 'control', 'foreign', 'written', 'state', 'stage', 'stop'] as const)
      : ([] as const)
    this.#limit = settings.sync * rig.control.period * 1e9
    this.#obey = settings.obey * 1e9
    this.#sync = new Float64Array(rig.buses.length).fill(Number.NaN)
    this.#ceased = new Alarm(rig.buses.length)
    this.#obeyed = new Uint8Array(rig.joints.length)
    this.#told = new Uint8Array(rig.joints.length)
    this.#toldWritten = new Uint8Array(rig.joints.length)
  }

  see(o: Observation): void {
    switch (o.kind) {
      case 'sync':
        this.#age(o.bus, o.t)
        if (!Number.isNaN(this.#sync[o.bus]!)) this.#sync[o.bus] = o.t
        return
      case 'tick':
        for (let b = 0; b < this.#sync.length; b++) this.#age(b, o.t)
        return
      case 'setpoint':
        this.#frame(this.#c.rig.joints[o.joint]!.name, 'a setpoint', o.t, this.#obey)
        return
      case 'control':
        if (!o.sent && !HARMLESS.has(o.command)) {
          const place = o.joint < 0 ? this.#c.rig.buses[o.bus]!.name : this.#c.rig.joints[o.joint]!.name
          this.#frame(place, `the command ${o.command}`, o.t, this.#obey)
        }
        return
      case 'foreign':
        this.#frame(this.#c.rig.buses[o.bus]!.name, 'a frame with the identifier of the stop', o.t, 0)
        return
      case 'written':
        this.#write(o.joint, o.index, o.sub, o.t)
        return
      case 'state':
        this.#state(o.joint, o.state, o.t)
        return
      case 'stop':
        this.#stopped = true
        this.#inMotion = false
        this.#quiet(o.t)
        return
      case 'stage':
        this.#enter(o.stage, o.t)
        return
    }
  }

  close(): void {}

  figures(): Figure[] {
    const { obey } = this.#c.settings
    const at = (name: string, value: number, unit: 's' | 'count', limit: number): Figure => ({
      place: '',
      ...{ name, value, unit, limit },
    })
    return [
      at("longest silence of the driver's SYNC", this.#longest / 1e9, 's', this.#limit / 1e9),
      at('last setpoint or enable of the driver after a stop', this.#lastFrame / 1e9, 's', obey),
      at('drives enabled again after a stop', this.#again, 'count', 0),
      at('writes to the set-up of drives in motion', this.#written, 'count', 0),
    ]
  }

  #enter(stage: Stage, t: Nanos): void {
    if (stage === 'setup') {
      this.#stopped = false
      this.#quietSince = Number.NaN
    } else if (stage === 'prove') this.#quiet(t)
    this.#inMotion = IN_MOTION.has(stage)
    if (!SYNC_DUE.has(stage)) this.#sync.fill(Number.NaN)
    // What was due already stays due.
    else for (let b = 0; b < this.#sync.length; b++) if (Number.isNaN(this.#sync[b]!)) this.#sync[b] = t
  }

  #quiet(t: Nanos): void {
    this.#quietSince = t
    this.#disobeyed = false
    this.#obeyed.fill(0)
    this.#told.fill(0)
  }

  #age(b: number, t: Nanos): void {
    const age = t - this.#sync[b]!
    if (Number.isNaN(age)) return
    if (age > this.#longest) this.#longest = age
    if (!this.#ceased.rises(b, age > this.#limit + GRACE ? 2 : 0, t)) return
    this.#report({
      // After a stop the harness takes over where it can: what is lost then, the watch for stopping tells.
      severity: this.#stopped ? 'warning' : 'failure',
      place: this.#c.rig.buses[b]!.name,
      t,
      quantity: 'SYNC of the driver',
      value: age / 1e9,
      limit: this.#limit / 1e9,
      unit: 's',
      says: this.#stopped ? "After the stop the driver's SYNC ceased." : "The driver's SYNC ceased.",
      why: 'Without SYNC no setpoint acts and no drive reports: the arms go on as they were told last.',
      look: 'Look whether the driver hangs, waits for something or has ended, and at the load of its machine.',
    })
  }

  #frame(place: string, what: string, t: Nanos, grace: Nanos): void {
    const after = t - this.#quietSince
    if (Number.isNaN(after)) return
    this.#lastFrame = Math.max(this.#lastFrame, after)
    if (after <= grace || this.#disobeyed) return
    this.#disobeyed = true
    this.#report({
      severity: 'failure',
      place,
      t,
      quantity: 'driver after the stop',
      value: after / 1e9,
      limit: grace / 1e9,
      unit: 's',
      says: `The driver did not obey the stop: it sent ${what}.`,
      why: 'A driver that goes on after a stop moves the arms as soon as a drive lets it.',
      look: 'Look at what the driver does when it is told to stop, and when its drives leave operation enabled.',
    })
  }

  #write(j: number, index: number, sub: number, t: Nanos): void {
    const place = this.#c.rig.joints[j]!.name
    const object = `${index.toString(16).toUpperCase()}h sub ${sub}`
    this.#frame(place, `a write to ${object} by SDO`, t, this.#obey)
    if (!this.#inMotion) return
    this.#written++
    const grave = stopHangsOn(index)
    const worth = grave ? 2 : 1
    if (this.#toldWritten[j]! >= worth) return
    this.#toldWritten[j] = worth
    this.#c.report({
      severity: grave ? 'failure' : 'warning',
      place,
      t,
      quantity: 'set-up in motion',
      value: this.#written,
      limit: 0,
      unit: 'count',
      says: `While the arms could move the driver wrote to ${object} of the drive.`,
      why: grave
        ? 'A stop hangs on what stands there: whether the drive would still stop, and how, is not known any more.'
        : 'A drive that is set up otherwise in mid-run moves otherwise than the one that was looked at.',
      look: 'Have the driver set its drives up before it enables them, and leave them so.',
      stop: grave ? this.#c.rig.stop.category : null,
    })
  }

  #state(j: number, state: ReportedState, t: Nanos): void {
    if (Number.isNaN(this.#quietSince)) return
    const obeyed = this.#obeyed[j]!
    if (isOff(state)) this.#obeyed[j] = 2
    else if (state === 'quick stop active' && obeyed < 2) this.#obeyed[j] = 1
    else if (obeyed === 2 || (obeyed === 1 && state === 'operation enabled')) {
      this.#obeyed[j] = 0
      this.#again++
      if (this.#told[j] === 1) return
      this.#told[j] = 1
      this.#report({
        severity: 'failure',
        place: this.#c.rig.joints[j]!.name,
        t,
        quantity: 'enabled again',
        value: 1,
        limit: 0,
        unit: 'none',
        says: `After the stop the drive was enabled again: it went to ${state}.`,
        why: 'An arm that is given torque after a stop moves when everybody trusts that it does not.',
        look: 'Look at what the driver does when its drives leave operation enabled: it must wait for a new start.',
      })
    }
  }

  #report(finding: Omit<Finding, 'watch' | 'stop'>): void {
    this.#c.report({ ...finding, stop: this.#c.rig.stop.category })
  }
}
