/**
 * From a bus with unknown drives to arms that follow their setpoints and have not moved: set-up read back, seeding,
 * NMT start, SYNC, enabling. A machine of steps advanced once a tick; nothing waits inside it.
 */
import type { Nanos } from '../clock.js'
import type { Rig } from '../files/rig.js'
import { isOff } from '../wire/cia402/state.js'
import type { DriveCommand, DriveState } from '../wire/observation.js'
import type { Drive, Notice, Refusal } from './drive.js'
import type { JointLink } from './link.js'

/**
 * calm: a drive that is enabled already is stopped. reset: NMT reset communication, every node must report. configure: SDO
 * set-up. seed: 607Ah loaded with 6064h. follow: nodes operational, SYNC runs, setpoints follow the measured positions, none
 * may be enabled. enable: the drives' state machines. A drive whose protocol has no such thing is through with a step at once.
 */
export type StartupStep = 'calm' | 'reset' | 'configure' | 'seed' | 'follow' | 'enable' | 'ready'

/** Who refused, and why; drive null = the whole rig. */
export interface StartupRefusal extends Refusal {
  readonly drive: Drive | null
}

/** Ticks of SYNC with feedback from every joint before enabling. */
const FOLLOW_TICKS = 20
/** Ticks for which all drives must have followed before they count as ready: what was falling has come to rest. */
const SETTLE_TICKS = 20
/** s on top of twice the longest quick stop, before a drive's power is cut by SDO */
const LONGEST_STOP_MARGIN = 0.5
/** A node that has not answered by then is told to leave NMT stopped, should it be there. */
const WAKE_AFTER: Nanos = 500e6
/** A controlword that has had no effect is repeated. */
const REPEAT_AFTER: Nanos = 50e6

/** The commands in the order in which a shared controlword must give them: the least advanced drive decides. */
const ORDER: readonly DriveCommand[] = ['fault reset', 'shutdown', 'switch on', 'enable operation']

export class Startup {
  readonly #rig: Rig
  readonly #link: JointLink
  #step: StartupStep = 'calm'
  /** Nodes that did not answer have been told to go to pre-operational. */
  #woken = false
  /** What cannot be checked has been said: once a run is enough. */
  #told = false
  #begunAt: Nanos = 0
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
    this.#begunAt = t
    this.#enter('calm', t)
    this.#link.permit()
    const { patience, quickStop } = this.#rig.link
    const slowest = Math.max(...this.#rig.joints.map((j) => j.limits.speed)) / quickStop
    const polls = Math.ceil((LONGEST_STOP_MARGIN + 2 * slowest) / this.#rig.control.period)
    for (const drive of this.#link.drives) {
      drive.held = false
      const says = 'was found giving torque before this run had enabled it, and was stopped first'
      drive.calm(t, { polls, patience, onFoundOn: () => this.notices.push({ drive, says }) })
    }
  }

  /** @returns a refusal that ends the run, or null */
  tick(t: Nanos): StartupRefusal | null {
    const { drives } = this.#link
    // The tick in which a new start is asked for may have opened with a request already.
    if (!this.cyclic && t > this.#begunAt) this.#link.ask()
    for (const drive of drives) {
      drive.tick(t)
      const { refusal } = drive
      if (refusal) return { drive, ...refusal }
    }
    const patience = this.#rig.link.patience
    const within = `within ${patience} s`
    const late = t - this.#since > patience * 1e9
    switch (this.#step) {
      case 'calm':
        if (drives.some((d) => d.busy)) {
          this.#wake(t)
          return null
        }
        this.#enter('reset', t)
        for (const drive of drives) drive.forget()
        this.#link.network('reset communication')
        return null
      case 'reset': {
        const missing = this.#lacking((d) => d.unready(within))
        if (missing) return late ? missing : null
        this.#enter('configure', t)
        for (const drive of drives) drive.configure(t)
        return null
      }
      case 'configure':
        // The SDO clients have time-outs of their own.
        if (drives.every((d) => !d.busy)) {
          this.#enter('seed', t)
          if (!this.#told) this.notices.push(...this.#link.unchecked('setup'))
          for (const drive of drives) drive.seed(t)
        }
        return null
      case 'seed': {
        if (drives.some((d) => d.busy)) return null
        const outside = drives.find((d) => !standsInside(d))
        if (outside) return outsideLimits(outside)
        this.#enter('follow', t)
        for (const drive of drives) {
          drive.feedbackAt = Number.NEGATIVE_INFINITY
          drive.forget()
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
            says: unseen.unheardSays,
            expected: `a feedback frame ${within}`,
            found: 'none',
          }
        }
        const mute = this.#lacking((d) => d.mute(within))
        if (mute) return late ? mute : null
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
        if (++this.#ticks <= FOLLOW_TICKS) return null
        this.#enter('enable', t)
        if (!this.#told) this.notices.push(...this.#link.unchecked('enable'))
        this.#told = true
        return null
      }
      case 'enable':
        return this.#enable(t, late ? within : null)
      case 'ready':
        return null
    }
  }

  /** What was not heard yet may be asleep: a node in NMT stopped hears neither SDO nor controlwords. */
  #wake(t: Nanos): void {
    if (this.#woken || t - this.#since < WAKE_AFTER) return
    this.#woken = true
    for (const drive of this.#link.drives) drive.wake()
  }

  /** The first drive that still lacks something, and what. */
  #lacking(what: (d: Drive) => Refusal | null): StartupRefusal | null {
    for (const drive of this.#link.drives) {
      const refusal = what(drive)
      if (refusal) return { drive, ...refusal }
    }
    return null
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
        expected: `${slow.enabledMeans} ${late}`,
        found: `${slow.state}${slow.follows ? '' : ', not following'}`,
      }
    }
    const due = ORDER.find((command) => drives.some((d) => d.next === command))
    if (due && (due !== this.#command || t - this.#commandAt > REPEAT_AFTER)) {
      // A fault reset acts on the rising edge of bit 7: give the edge anew.
      if (due === 'fault reset') this.#link.control('disable voltage')
      this.#link.control(due)
      this.#command = due
      this.#commandAt = t
    }
    return null
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

/** Within its position limits. */
export const standsInside = (d: Drive): boolean =>
  d.position >= d.joint.limits.lower && d.position <= d.joint.limits.upper

export function outsideLimits(drive: Drive): StartupRefusal {
  const { lower, upper } = drive.joint.limits
  const degrees = (rad: number): string => `${((rad * 180) / Math.PI).toFixed(1)} deg`
  return {
    drive,
    says: 'stands outside its position limits; move it by hand with the power off, or check its zero and sign',
    expected: `${degrees(lower)} to ${degrees(upper)}`,
    found: degrees(drive.position),
  }
}
