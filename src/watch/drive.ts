/**
 * What the drives say of themselves: states and node states that nobody told them, drives that stop following their
 * setpoints, faults, and emergency messages.
 *
 * What our own controlwords and NMT commands ask for is no finding, and nothing else is excused: while drives are let go
 * of (stage `disable`, and from a stop on) a drive may only be in a state that the last controlword leads to, or, until
 * it has got there, the one before. A fault is always a finding; one that was there before enabling, and that the
 * start-up resets, is a warning. Once a lost bus has stopped the run, its nodes may leave operational by themselves.
 */
import type { Nanos } from '../clock.js'
import type { Figure, Finding, Stage } from '../files/event.js'
import type { DriveCommand, DriveState, NodeState, ReportedState } from '../wire/observation.js'
import { BusHealth } from './bus-health.js'
import { type DriveWords, driveWords } from './drive-words.js'
import { jointsByBus, Operational } from './operational.js'
import type { WatchSettings } from './settings.js'
import { isOperation } from './tracking.js'
import type { Observation, Watch, WatchContext } from './watch.js'

/** Different emergency codes of one joint that are told; the rest is counted. */
const CODES = 8

/** States on the way of each command and at its end (CiA 402, transitions of the state machine). */
const LEADS_TO: Record<DriveCommand, readonly DriveState[]> = {
  shutdown: ['ready to switch on', 'switched on'],
  'switch on': ['ready to switch on', 'switched on'],
  'enable operation': ['switched on', 'operation enabled'],
  'disable voltage': ['switch on disabled'],
  'quick stop': ['quick stop active', 'switch on disabled'],
  'fault reset': ['switch on disabled'],
}

interface WatchedDrive {
  state: ReportedState | null
  follows: boolean
  /** The last two different commands; `before` counts until a state of `command` has been seen. */
  command: DriveCommand | null
  before: DriveCommand | null
  /** ns, when NMT started its node; NaN = it is not started */
  started: Nanos
  /** A node state that nobody asked for has been told since then. */
  restarted: boolean
  left: number
  emergencies: number
  readonly codes: Set<number>
}

export class DriveWatch implements Watch {
  readonly kinds = ['state', 'control', 'heartbeat', 'nmt', 'emergency', 'stage', 'stop', 'bus'] as const
  readonly #c: WatchContext<WatchSettings['drive']>
  readonly #drives: readonly WatchedDrive[]
  readonly #byBus: readonly (readonly number[])[]
  readonly #operational: Operational
  readonly #health: BusHealth
  /** [bus] it has failed since the last start-up: its drives were left to their own watchdogs */
  readonly #wasLost: boolean[]
  /** How long after its start a node's heartbeat may still tell the state before. */
  readonly #stale: Nanos
  #stage: Stage | null = null
  #stopped = false

  constructor(context: WatchContext<WatchSettings['drive']>) {
    this.#c = context
    const { rig } = context
    this.#drives = rig.joints.map(() => ({
      state: null,
      follows: false,
      command: null,
      before: null,
      started: Number.NaN,
      restarted: false,
      left: 0,
      emergencies: 0,
      codes: new Set<number>(),
    }))
    this.#byBus = jointsByBus(rig)
    this.#operational = new Operational(rig)
    this.#health = new BusHealth(rig)
    this.#wasLost = rig.buses.map(() => false)
    this.#stale = (rig.link.driveHeartbeat + rig.control.period) * 1e9
  }

  see(o: Observation): void {
    switch (o.kind) {
      case 'state':
        this.#state(o.joint, o.state, o.follows, o.word, o.t)
        return
      case 'control':
        if (o.command === 'unknown') return
        for (const j of o.joint < 0 ? this.#byBus[o.bus]! : [o.joint]) this.#command(j, o.command)
        return
      case 'heartbeat':
        if (o.joint >= 0) this.#node(o.joint, o.state, o.t)
        return
      case 'nmt':
        for (const j of this.#operational.nmt(o.bus, o.node, o.command)) {
          const drive = this.#drives[j]!
          const started = this.#operational.isStarted(j)
          drive.started = started ? o.t : Number.NaN
          drive.restarted = false
          // Whatever state it comes back in from this, it was told to.
          if (!started) drive.state = null
        }
        return
      case 'emergency':
        this.#emergency(o.joint, o.code, o.t)
        return
      case 'stop':
        this.#stopped = true
        return
      case 'bus': {
        const bus = this.#health.see(o)
        if (bus >= 0 && this.#health.isFailing(bus)) this.#wasLost[bus] = true
        return
      }
      case 'stage':
        this.#stage = o.stage
        if (o.stage === 'setup') this.#wasLost.fill(false)
        if (o.stage === 'setup' || o.stage === 'seed') this.#stopped = false
        return
    }
  }

  close(): void {}

  figures(): Figure[] {
    return this.#c.rig.joints.flatMap(({ name: place, index: j, wire }): Figure[] => {
      const { left, emergencies } = this.#drives[j]!
      const rows: Figure[] = [{ place, name: 'left operation untold', value: left, unit: 'count', limit: 0 }]
      if (wire.protocol === 'frames') return rows
      return [...rows, { place, name: 'emergency messages', value: emergencies, unit: 'count', limit: 0 }]
    })
  }

  #command(j: number, command: DriveCommand): void {
    const drive = this.#drives[j]!
    if (drive.command === command) return
    drive.before = drive.command
    drive.command = command
  }

  #state(j: number, state: ReportedState, follows: boolean, word: number, t: Nanos): void {
    const drive = this.#drives[j]!
    const before = drive.state
    const followed = drive.follows
    drive.state = state
    drive.follows = follows
    const told = leadsTo(drive.command, state) || leadsTo(drive.before, state)
    if (leadsTo(drive.command, state)) drive.before = null

    const stage = this.#stage
    const settingUp = stage === null || stage === 'setup'
    const starting = settingUp || stage === 'seed' || stage === 'enable'
    if (isFault(state)) {
      if ((before !== null && isFault(before)) || this.#isOwnStop(j)) return
      if (settingUp || (before === null && starting)) this.#foundInFault(j, word, t)
      else this.#tell(j, 'drive state', word, t, `The drive went from ${before ?? 'no state'} to ${state}.`)
    } else if (settingUp) {
      return
    } else if (state === 'unknown') {
      this.#tell(j, 'drive state', word, t, this.#words(j, word).unnamed)
    } else if (this.#stopped || (!starting && !isOperation(stage))) {
      if (told || before === null) return
      this.#tell(j, 'drive state', word, t, `The drive went from ${before} to ${state} without being told.`)
    } else if (before === 'operation enabled' && state !== 'operation enabled') {
      drive.left++
      this.#tell(j, 'drive state', word, t, `The drive went from ${before} to ${state} without being told.`)
    } else if (followed && !follows && state === 'operation enabled' && isOperation(stage)) {
      drive.left++
      const says = `The drive no longer follows its setpoints (${this.#words(j, word).following}).`
      this.#tell(j, 'drive follows', word, t, says)
    }
  }

  /** A drive that cannot be told what to do when setpoints cease may stop into fault: on a bus that was lost it did what it should. */
  #isOwnStop(j: number): boolean {
    const { wire } = this.#c.rig.joints[j]!
    return wire.protocol === 'frames' && this.#stopped && this.#wasLost[wire.bus]!
  }

  /** Boot-up message or heartbeat of a node (CiA 301, 7.3.2.2, 7.2.8.3). */
  #node(j: number, node: NodeState, t: Nanos): void {
    const drive = this.#drives[j]!
    if (Number.isNaN(drive.started) || node === 'operational' || drive.restarted) return
    if (node !== 'boot-up' && t - drive.started <= this.#stale) return
    // Without our heartbeat a node leaves operational, as it was set up to (1029h); one that boots has lost power.
    const bus = this.#c.rig.joints[j]!.wire.bus
    if (node !== 'boot-up' && this.#stopped && this.#wasLost[bus]) return
    drive.restarted = true
    this.#failure(j, t, {
      quantity: 'node state',
      value: 0,
      limit: 1,
      says:
        node === 'boot-up'
          ? 'The drive restarted: its set-up is lost.'
          : `The heartbeat of this drive says ${node} although its node was started.`,
      why: 'A node that leaves operational by itself hears no setpoints, and one that restarted has no set-up for a stop.',
      look: 'Look at the supply of this drive, then for somebody else who sends NMT commands.',
    })
  }

  #tell(j: number, quantity: 'drive state' | 'drive follows', word: number, t: Nanos, says: string): void {
    const { value, limit, error } = this.#words(j, word)
    this.#failure(j, t, {
      quantity,
      value: quantity === 'drive state' ? value : 0,
      limit: quantity === 'drive state' ? limit : 1,
      says,
      why: 'A drive that changes its state by itself lets its joint go, or holds or moves it when nobody expects it.',
      look: `Look at ${error} and at its supply.`,
    })
  }

  #failure(
    j: number,
    t: Nanos,
    finding: Pick<Finding, 'quantity' | 'value' | 'limit' | 'says' | 'why' | 'look'>,
  ): void {
    const { rig } = this.#c
    const place = rig.joints[j]!.name
    this.#c.report({ ...finding, severity: 'failure', place, t, unit: 'none', stop: rig.stop.category })
  }

  #words(j: number, word: number): DriveWords {
    return driveWords(this.#c.rig.joints[j]!, word)
  }

  #foundInFault(j: number, word: number, t: Nanos): void {
    const { value, limit, error } = this.#words(j, word)
    this.#c.report({
      severity: 'warning',
      place: this.#c.rig.joints[j]!.name,
      t,
      quantity: 'drive state',
      value,
      limit,
      unit: 'none',
      says: 'The drive was in fault before it was enabled; the start-up resets the fault.',
      why: 'A fault that is reset without a look at its cause comes again.',
      look: `Look at ${error} and at what it did last.`,
      stop: null,
    })
  }

  #emergency(j: number, code: number, t: Nanos): void {
    // Code 0000h: the error is gone (CiA 301, 7.2.7.1). A joint that is none of the rig's is the bus watch's matter.
    if (j < 0 || code === 0) return
    const drive = this.#drives[j]!
    drive.emergencies++
    if (drive.codes.has(code) || drive.codes.size >= CODES) return
    drive.codes.add(code)
    const { rig } = this.#c
    const early = this.#stage === 'setup' || this.#stage === null
    this.#c.report({
      severity: early ? 'warning' : 'failure',
      place: rig.joints[j]!.name,
      t,
      quantity: 'emergency',
      value: code,
      limit: 0,
      unit: 'none',
      says: `The drive sent an emergency message with code ${code.toString(16).toUpperCase().padStart(4, '0')}h.`,
      why: 'A drive reports an error of its own that way.',
      look: "Look the code up in the drive's manual; the first digit names the group (CiA 402).",
      stop: early ? null : rig.stop.category,
    })
  }
}

function leadsTo(command: DriveCommand | null, state: ReportedState): boolean {
  return command !== null && (LEADS_TO[command] as readonly ReportedState[]).includes(state)
}

function isFault(state: ReportedState): boolean {
  return state === 'fault' || state === 'fault reaction active'
}
