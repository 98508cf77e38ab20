/**
 * From a bus with unknown drives to arms that follow their setpoints and have not moved: set-up read back, seeding,
 * NMT start, SYNC, enabling. A machine of steps advanced once a tick; nothing waits inside it.
 */
import type { Nanos } from '../clock.js'
import type { Rig } from '../files/rig.js'
import { isOff } from '../wire/cia402/state.js'
import type { DriveCommand, DriveState } from '../wire/observation.js'
import type { Drive } from './drive.js'
import type { JointLink } from './link.js'
import { calm, configure, seed } from './scripts.js'
import { REPLY_WITHIN, type Refusal } from './sdo-client.js'

/**
 * calm: a drive that is enabled already is stopped, by SDO. reset: NMT reset communication, every node must report. configure: SDO set-up. seed: 607Ah loaded with 6064h. follow: nodes operational, SYNC
 * runs, setpoints follow the measured positions, none may be enabled. enable: the drives' state machines.
 */
export type StartupStep = 'calm' | 'reset' | 'configure' | 'seed' | 'follow' | 'enable' | 'ready'

/** Who refused, and why; drive null = the whole rig. */
export interface StartupRefusal extends Refusal {
  readonly drive: Drive | null
}

/** Something about a drive for the report. */
export interface Notice {
  readonly drive: Drive
  readonly says: string
}

/** Ticks of SYNC with feedback from every joint before enabling. */
const FOLLOW_TICKS = 20
/** Ticks for which all drives must have followed before they count as ready: what was falling has come to rest. */
const SETTLE_TICKS = 20
/** s on top of twice the longest quick stop, before a drive's power is cut by SDO */
const LONGEST_STOP_MARGIN = 0.5
/** A node that has not answered by then is told to leave NMT stopped, should it be there. */
const WAKE_AFTER: Nanos = 500e6
const WIRING = 'look at power, wiring, termination, bit rate and node id'
/** A controlword that has had no effect is repeated. */
const REPEAT_AFTER: Nanos = 50e6

/** What brings a drive that says this one step nearer to operation enabled. */
const NEXT: Partial<Record<DriveState | 'unknown', DriveCommand>> = {
  fault: 'fault reset',
  'switch on disabled': 'shutdown',
  'ready to switch on': 'switch on',
  'switched on': 'enable operation',
}
/** The commands in the order in which a shared controlword must give them: the least advanced drive decides. */
const ORDER: readonly DriveCommand[] = ['fault reset', 'shutdown', 'switch on', 'enable operation']

export class Startup {
  readonly #rig: Rig
  readonly #link: JointLink
  #step: StartupStep = 'calm'
  /** Nodes that did not answer have been told to go to pre-operational. */
  #woken = false
  #since: Nanos = 0
  #ticks = 0
  #command: DriveCommand | null = null
  #commandAt: Nanos = 0

  constructor(rig: Rig, link: JointLink) {
    this.#rig = rig
    this.#link = link
  }

  /** What was worth a look and stopped nothing; whoever reads it empties it. */
  readonly notices: Notice[] = []

  get step(): StartupStep {
    return this.#step
  }

  /** SYNC and setpoints run from this step on. */
  get cyclic(): boolean {
    return this.#step === 'follow' || this.#step === 'enable' || this.#step === 'ready'
  }

  /** Everything from the beginning, whatever the drives are doing; after a stop too, nothing is taken for granted. */
  begin(t: Nanos): void {
    this.#woken = false
    this.#enter('calm', t)
    this.#link.permit()
    const { patience, quickStop } = this.#rig.link
    const slowest = Math.max(...this.#rig.joints.map((j) => j.limits.speed)) / quickStop
    const polls = Math.ceil((LONGEST_STOP_MARGIN + 2 * slowest) / this.#rig.control.period)
    // A node may still be starting up: it is asked for as long as patience lasts.
    const tries = Math.ceil((patience * 1e9) / REPLY_WITHIN)
    for (const drive of this.#link.drives) {
      drive.held = false
      drive.node = 'unknown'
      const says = 'was found giving torque before this run had enabled it, and was stopped first'
      drive.sdo.run(
        calm(polls, () => this.notices.push({ drive, says })),
        t,
        tries,
      )
    }
  }

  /** @returns a refusal that ends the run, or null */
  tick(t: Nanos): StartupRefusal | null {
    const { drives } = this.#link
    for (const drive of drives) {
      drive.sdo.tick(t)
      const { refusal } = drive.sdo
      if (!refusal) continue
      if (this.#step === 'calm' && !drive.sdo.answered)
        return { drive, ...refusal, says: `does not answer; ${WIRING}` }
      return { drive, ...refusal }
    }
    const patience = this.#rig.link.patience
    const late = t - this.#since > patience * 1e9 ? `within ${patience} s` : null
    switch (this.#step) {
      case 'calm':
        if (drives.some((d) => d.sdo.busy)) {
          this.#wake(t)
          return null
        }
        this.#enter('reset', t)
        for (const drive of drives) drive.node = 'unknown'
        this.#link.network('reset communication')
        return null
      case 'reset': {
        const missing = drives.find((d) => d.node !== 'pre-operational' && d.node !== 'boot-up')
        if (!missing) {
          this.#enter('configure', t)
          for (const drive of drives) drive.sdo.run(configure(this.#rig, drive.joint), t)
        } else if (late) {
          return {
            drive: missing,
            says: `does not report after NMT reset communication; ${WIRING}`,
            expected: `a boot-up message or heartbeat ${late}`,
            found: missing.node === 'unknown' ? 'nothing' : `node state ${missing.node}`,
          }
        }
        return null
      }
      case 'configure':
        // The SDO clients have time-outs of their own.
        if (drives.every((d) => !d.sdo.busy)) {
          this.#enter('seed', t)
          this.#seed(t)
        }
        return null
      case 'seed': {
        if (drives.some((d) => d.sdo.busy)) return null
        const outside = drives.find((d) => !inside(d))
        if (outside) return outsideLimits(outside)
        this.#enter('follow', t)
        for (const drive of drives) {
          drive.feedbackAt = Number.NEGATIVE_INFINITY
          drive.node = 'unknown'
        }
        this.#link.network('start')
        return null
      }
      case 'follow': {
        const unseen = drives.find((d) => d.feedbackAt === Number.NEGATIVE_INFINITY)
        if (unseen) {
          if (!late) return null
          return {
            drive: unseen,
            says: 'sends no feedback although its node was started',
            expected: `a feedback frame ${late}`,
            found: 'none',
          }
        }
        const mute = drives.find((d) => d.node !== 'operational')
        if (mute) {
          if (!late) return null
          return {
            drive: mute,
            says: 'sends no heartbeat that says operational although its node was started',
            expected: `a heartbeat ${late}`,
            found: mute.node === 'unknown' ? 'none' : `node state ${mute.node}`,
          }
        }
        const early = drives.find((d) => !isOff(d.state))
        if (early) {
          return {
            drive: early,
            says: 'is enabled although nothing has enabled it; another sender may be on the bus',
            expected: 'a drive without torque',
            found: early.state === 'unknown' ? 'an undefined statusword' : early.state,
          }
        }
        // From here on setpoints may leave: they are the measured positions.
        this.#link.unsilence()
        if (++this.#ticks > FOLLOW_TICKS) this.#enter('enable', t)
        return null
      }
      case 'enable':
        return this.#enable(t, late)
      case 'ready':
        return null
    }
  }

  /** A node in NMT stopped hears neither SDO nor controlwords, only NMT. */
  #wake(t: Nanos): void {
    if (this.#woken || t - this.#since < WAKE_AFTER) return
    this.#woken = true
    for (const drive of this.#link.drives) {
      if (!drive.sdo.answered) this.#link.networkTo(drive, 'pre-operational')
    }
  }

  #enable(t: Nanos, late: string | null): StartupRefusal | null {
    const { drives } = this.#link
    for (const drive of drives) drive.held ||= drive.follows
    if (drives.every((d) => d.follows)) {
      if (++this.#ticks > SETTLE_TICKS) this.#enter('ready', t)
      return null
    }
    this.#ticks = 0
    if (late) {
      // A shared controlword makes all wait for one: it is the one that came least far.
      const slow = drives.reduce((least, d) => (progress(d) < progress(least) ? d : least))
      return {
        drive: slow,
        says: 'does not come to operation enabled and follow its setpoint',
        expected: `operation enabled with statusword bit 12 ${late}`,
        found: `${slow.state}${slow.follows ? '' : ', not following'}`,
      }
    }
    const due = ORDER.find((command) => drives.some((d) => NEXT[d.state] === command))
    if (due && (due !== this.#command || t - this.#commandAt > REPEAT_AFTER)) {
      // A fault reset acts on the rising edge of bit 7: give the edge anew.
      if (due === 'fault reset') this.#link.control('disable voltage')
      this.#link.control(due)
      this.#command = due
      this.#commandAt = t
    }
    return null
  }

  #seed(t: Nanos): void {
    for (const drive of this.#link.drives) {
      drive.sdo.run(
        seed((counts) => {
          drive.counts = counts
        }),
        t,
      )
    }
  }

  #enter(step: StartupStep, t: Nanos): void {
    this.#step = step
    this.#since = t
    this.#ticks = 0
    this.#command = null
  }
}

/** The way to operation enabled. */
const WAY: readonly (DriveState | 'unknown')[] = [
  'unknown',
  'fault reaction active',
  'fault',
  'not ready to switch on',
  'quick stop active',
  'switch on disabled',
  'ready to switch on',
  'switched on',
  'operation enabled',
]

const progress = (d: Drive): number => WAY.indexOf(d.state) + (d.follows ? 1 : 0)

const inside = (d: Drive): boolean => d.position >= d.joint.limits.lower && d.position <= d.joint.limits.upper

function outsideLimits(drive: Drive): StartupRefusal {
  const { lower, upper } = drive.joint.limits
  const degrees = (rad: number): string => `${((rad * 180) / Math.PI).toFixed(1)} deg`
  return {
    drive,
    says: 'stands outside its position limits; move it by hand with the power off, or check its zero and sign',
    expected: `${degrees(lower)} to ${degrees(upper)}`,
    found: degrees(drive.position),
  }
}
