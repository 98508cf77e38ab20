/**
 * A stop without a bench: whoever holds the buses of a rig brings the arms to rest, takes their power, watches them for a
 * while and says what each drive confirmed. One call of `tick` a control period; nothing is waited for, and it ends in any case.
 *
 * Drives that send no feedback (their nodes have left operational, or SYNC is missing) are asked.
 *
 * Where the driver owns the buses nothing leaves but the stop, and our heartbeat if that is fed, until the driver is known to be
 * gone (`own`), or, for who does not feed the drives, until its SYNC has ceased.
 */
import type { Bus } from '../bus/contract.js'
import { type Nanos, nanos } from '../clock.js'
import type { EmergencyCategory } from '../files/event.js'
import type { Rig } from '../files/rig.js'
import type { Drive, Notice } from '../link/drive.js'
import { JointLink } from '../link/link.js'
import type { Count } from '../link/protocol.js'
import { COB } from '../wire/cia402/objects.js'
import { nowhere } from './nowhere.js'
import { type Confirmation, StopSequence } from './sequence.js'

/** s beyond the rig's stop time-out after which a stop is looked at as it is. */
export const LONGEST_STOP = 3
/** A drive that has said nothing for so long is asked. */
const ASK_AFTER: Nanos = 10e6
/** A position older than this says nothing of the present. */
const UNSEEN_AFTER: Nanos = 50e6
/** One that has not been heard at all by then is told to leave NMT stopped, should it be there. */
const WAKE_AFTER: Nanos = 500e6
/** A driver that owns the buses and has sent no SYNC for so long will not be disturbed by questions: it hangs, or is not there. */
const OWNER_SILENT_AFTER: Nanos = 500e6

export interface HaltOptions {
  /**
   * Take the place of the bench that fed the drives: SYNC and heartbeat go on. Otherwise nothing is sent but the stop and
   * questions: somebody else may be the sender of SYNC.
   */
  readonly feed: boolean
  /** Rolling counters of whoever sent before, as last heard of (`JointLink.stopCounts`); left out: nothing is known of them. */
  readonly counts?: readonly (readonly Count[])[] | null
}

/** stopping: joints come to rest, drives are told to give up their power. watching: sag is measured. over: all was said. */
type HaltStage = 'stopping' | 'watching' | 'over'

/** What one drive came to. */
export interface Halted extends Confirmation {
  /** rad, farthest from where it came to rest, in the time that it was watched; null: it was not seen at rest. */
  readonly sag: number | null
}

export class Halt {
  readonly #rig: Rig
  readonly #link: JointLink
  readonly #stop: StopSequence
  readonly #feed: boolean
  readonly #heartbeatTicks: number
  /** Of the buses that were given. */
  readonly #drives: readonly Drive[]
  readonly #buses: readonly Bus[]
  readonly #backlog: boolean[]
  readonly #woken: boolean[]
  /** rad, where each joint was when all were still; and how far from there it was seen since */
  readonly #rest: Float64Array
  readonly #sag: Float64Array
  #stage: HaltStage = 'stopping'
  /** What is sent now is no part of the stop. */
  #sparingly = false
  #begun: Nanos = 0
  #stageAt: Nanos = 0
  #ticks = 0
  #last: readonly Confirmation[] = []
  /** NMT is ours. A driver that owns the buses and hangs may wake, and finds its nodes as they were. */
  readonly #rulesNodes: boolean
  /** Of the driver that owns the buses. */
  #syncAt: Nanos = Number.NEGATIVE_INFINITY

  /** @param given one a bus of the rig, in order; null: its drives are no matter of this stop */
  constructor(rig: Rig, given: readonly (Bus | null)[], { feed, counts }: HaltOptions) {
    this.#rig = rig
    this.#feed = feed
    this.#rulesNodes = feed || rig.buses.every(({ owner }) => owner === 'harness')
    const buses = given.map((bus, i) => bus ?? nowhere(rig.buses[i]!.name, 'no such interface'))
    this.#buses = buses
    this.#backlog = buses.map(() => false)
    this.#link = new JointLink(
      rig,
      buses.map((bus, i) => this.#sparing(bus, i)),
      counts ?? undefined,
    )
    this.#drives = this.#link.drives.filter(({ joint }) => given[joint.wire.bus] !== null)
    this.#stop = new StopSequence(rig, this.#link, this.#drives)
    this.#heartbeatTicks = Math.max(1, Math.round(rig.link.ourHeartbeat / rig.control.period))
    this.#woken = rig.joints.map(() => false)
    this.#rest = new Float64Array(rig.joints.length).fill(Number.NaN)
    this.#sag = new Float64Array(rig.joints.length)
    buses.forEach((bus, i) => {
      bus.onFrame((frame, t) => {
        if (frame.id === COB.sync) this.#syncAt = t
        this.#link.onFrame(i, frame, t)
      })
    })
  }

  get stage(): HaltStage {
    return this.#stage
  }

  /** The driver that owned the buses is known to be gone. */
  own(): void {
    if (this.#link.listening) this.#link.own()
  }

  /** Drives that had to be told in more than one way; whoever reads it empties it. */
  get notices(): Notice[] {
    return this.#stop.notices
  }

  /** The stop frames go to every given bus before this returns, or are owed and sent with the ticks. */
  begin(t: Nanos, category: EmergencyCategory = this.#rig.stop.category): void {
    this.#begun = t
    this.#stop.begin(category, t)
    // How far the sender before had counted is known of its last tick at best. If the first frame repeats its last number, or
    // does not go on from it, the second one follows the first.
    if (this.#link.stopCounts) this.#stop.again(category, t)
    this.#enter('stopping', t)
  }

  tick(t: Nanos): void {
    if (this.#stage === 'over') return
    for (let i = 0; i < this.#buses.length; i++) this.#backlog[i] = this.#buses[i]!.waiting > 0
    // The stop first: SYNC and questions take their turn behind it, where a queue has little room.
    this.#stop.tick(t)
    if (!this.#feed && t - Math.max(this.#begun, this.#syncAt) > OWNER_SILENT_AFTER) this.own()
    this.#sparingly = true
    if (this.#feed) this.#link.sync()
    else this.#link.ask()
    for (const drive of this.#drives) this.#hear(drive, t)
    if (this.#feed && this.#ticks++ % this.#heartbeatTicks === 0) this.#link.heartbeat()
    this.#sparingly = false
    this.#advance(t)
  }

  /** What every drive of the given buses has confirmed, in rig order; after the end, what it had confirmed then. */
  drives(t: Nanos): Halted[] {
    const now = this.#stage === 'over' ? this.#last : this.#stop.confirmations(t)
    return now.map((c) => ({ ...c, sag: Number.isNaN(this.#rest[c.joint]!) ? null : this.#sag[c.joint]! }))
  }

  /** Where frames of the tick before still wait, the stop must find room behind them: nothing else is added. */
  #sparing(bus: Bus, index: number): Bus {
    const sparing: Bus = {
      name: bus.name,
      get state() {
        return bus.state
      },
      get waiting() {
        return bus.waiting
      },
      send: (frame) => (this.#sparingly && this.#backlog[index] ? 'queue full' : bus.send(frame)),
      withdraw: () => bus.withdraw(),
      onFrame: (listener) => bus.onFrame(listener),
      only: (filters) => bus.only(filters),
      onReport: (listener) => bus.onReport(listener),
      close: () => bus.close(),
    }
    return sparing
  }

  #hear(drive: Drive, t: Nanos): void {
    drive.tick(t)
    if (this.#link.listening || t - drive.feedbackAt < ASK_AFTER) return
    const { index } = drive.joint
    if (
      this.#rulesNodes &&
      !this.#woken[index] &&
      drive.feedbackAt < this.#begun &&
      t - this.#begun > WAKE_AFTER
    ) {
      this.#woken[index] = true
      drive.wake()
    }
    drive.inquire(t)
  }

  #advance(t: Nanos): void {
    const { timeout, sagWindow } = this.#rig.stop
    if (this.#stage === 'stopping') {
      const all = this.#stop.confirmations(t).every(confirmed)
      if (!all && t - this.#begun < nanos(timeout + LONGEST_STOP)) return
      this.#enter('watching', t)
    }
    this.#watchSag(t)
    if (t - this.#stageAt < nanos(sagWindow)) return
    // A joint that a brake let slip, or that sagged, must be seen at rest once more: how long ago is no matter of the window.
    const over = t - this.#begun >= nanos(timeout + LONGEST_STOP + sagWindow)
    if (!over && !this.#stop.confirmations(t).every(confirmed)) return
    this.#last = this.#stop.confirmations(t)
    // Last of all: it ends the feedback, and with it the ear for controlwords.
    if (this.#rulesNodes) this.#link.network('pre-operational')
    this.#enter('over', t)
  }

  #watchSag(t: Nanos): void {
    for (const { joint, position, feedbackAt } of this.#drives) {
      if (t - feedbackAt >= UNSEEN_AFTER) continue
      const rest = this.#rest[joint.index]!
      if (Number.isNaN(rest)) this.#rest[joint.index] = position
      else this.#sag[joint.index] = Math.max(this.#sag[joint.index]!, Math.abs(position - rest))
    }
  }

  #enter(stage: HaltStage, t: Nanos): void {
    this.#stage = stage
    this.#stageAt = t
  }
}

/** It says that it gives no torque, and its joint was seen at rest. */
export function confirmed({ off, since }: Confirmation): boolean {
  return off && since !== null
}
