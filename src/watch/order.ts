/**
 * What should be there once, and in order: each node on its bus, and the times of what is seen.
 *
 * Two drives with one node number answer to the same setpoints from different places, and neither can be stopped alone. Any of three
 * things shows it: heartbeats that come half as long again as often as they were set up to (1017h) over many periods; a node that says operational again
 * without NMT after it has said otherwise (CiA 301: only NMT starts a node); two different answers to each of several SYNCs in a row.
 * A frame that comes twice is the same twice, and a late one is followed by a SYNC without answer: neither is taken for a second drive.
 * Nor are heartbeats that had to wait and then came all at once: each counts from when it was due at the latest after the one before.
 *
 * Times are the harness's own, of one clock that never goes back and that no change of the wall clock moves. Those of ticks must fit to their numbers,
 * and those of the frames heard on a bus must not fall. Where they do not, no speed, age or lag of the run is worth anything: a doubt.
 */
import type { Nanos } from '../clock.js'
import type { Figure, Finding } from '../files/event.js'
import { Alarm } from './alarm.js'
import { Operational } from './operational.js'
import type { WatchSettings } from './settings.js'
import type { Observation, Watch, WatchContext } from './watch.js'

/** Heartbeats over which they are counted: two thirds of the time that they should take is too short. */
const BEATS = 24
const TOO_FAST = 2 / 3
/** Periods after which the next heartbeat is due, for a drive whose clock is slow. */
const SLOWEST = 1.1

interface Node {
  /** ns, when the last heartbeats were due or came, whichever was sooner, the oldest at `next`; NaN: none yet */
  readonly beats: Float64Array
  next: number
  /** The last of them, or the NMT command since; NaN: neither has been seen */
  due: number
  /** It has said operational, or otherwise, since it was last told. */
  wasOperational: boolean
  leftByItself: boolean
  /** Of the last SYNC that was answered: its index, what the first answer was, whether another was told; SYNCs in a row with two. */
  index: number
  position: number
  differs: boolean
  row: number
  most: number
}

export class OrderWatch implements Watch {
  readonly kinds = ['heartbeat', 'feedback', 'nmt', 'frame', 'tick', 'stage', 'stop'] as const
  readonly #c: WatchContext<WatchSettings['order']>
  readonly #nodes: readonly Node[]
  readonly #operational: Operational
  readonly #twin: Alarm
  readonly #disorder: Alarm
  /** ns, by bus: the last frame heard */
  readonly #heard: Float64Array
  readonly #heartbeat: Nanos
  readonly #fastest: Nanos
  readonly #period: Nanos
  #stopped = false
  /** Tick number and the deadline that it served; -1: none yet */
  #k = -1
  #served: Nanos = 0
  #back = 0
  #jumps = 0

  constructor(context: WatchContext<WatchSettings['order']>) {
    this.#c = context
    const { rig } = context
    this.#nodes = rig.joints.map(() => ({
      beats: new Float64Array(BEATS).fill(Number.NaN),
      next: 0,
      due: Number.NaN,
      wasOperational: false,
      leftByItself: false,
      index: -1,
      position: 0,
      differs: false,
      row: 0,
      most: 0,
    }))
    this.#operational = new Operational(rig)
    this.#twin = new Alarm(rig.joints.length)
    this.#disorder = new Alarm(rig.buses.length + 1)
    this.#heard = new Float64Array(rig.buses.length)
    this.#heartbeat = rig.link.driveHeartbeat * 1e9
    this.#fastest = TOO_FAST * (BEATS - 1) * this.#heartbeat
    this.#period = rig.control.period * 1e9
  }

  see(o: Observation): void {
    switch (o.kind) {
      case 'frame':
        if (!o.sent) this.#frame(o.bus, o.t)
        return
      case 'feedback':
        this.#feedback(o.joint, o.index, o.position, o.t)
        return
      case 'tick':
        this.#tick(o.k, o.t, o.late)
        return
      case 'heartbeat':
        if (o.joint >= 0) this.#beat(o.joint, o.state === 'operational', o.t)
        return
      case 'nmt':
        for (const j of this.#operational.nmt(o.bus, o.node, o.command)) {
          const node = this.#nodes[j]!
          node.beats.fill(Number.NaN)
          node.due = o.t
          node.wasOperational = node.leftByItself = false
          node.index = -1
          node.row = 0
        }
        return
      case 'stop':
        this.#stopped = o.category !== 2
        return
      case 'stage':
        if (o.stage === 'setup' || o.stage === 'seed') this.#stopped = false
        // SYNC, and the ticks that are told of, begin anew.
        this.#k = -1
        return
    }
  }

  close(): void {}

  figures(): Figure[] {
    const { rig } = this.#c
    const count = (place: string, name: string, value: number, limit: number | null): Figure => {
      return { place, name, value, unit: 'count', limit }
    }
    return [
      count('', 'times that went back', this.#back, 0),
      count('', 'jumps of time between ticks', this.#jumps, 0),
      ...rig.joints.map(({ name, index }) =>
        count(name, 'SYNCs in a row with two answers', this.#nodes[index]!.most, this.#c.settings.answers),
      ),
    ]
  }

  #beat(j: number, operational: boolean, t: Nanos): void {
    const node = this.#nodes[j]!
    // Only a node that was started can leave by itself, and then nothing but NMT brings it back.
    if (this.#operational.isStarted(j)) {
      if (operational && node.leftByItself) this.#tellTwin(j, t, 'nodes that speak', 2, 1, RETURNED)
      if (!operational && node.wasOperational) node.leftByItself = true
      node.wasOperational ||= operational
    }
    // Heartbeats that are lost for good must not excuse others for ever.
    if (Number.isNaN(node.due)) node.due = t
    else node.due = Math.max(t - BEATS * this.#heartbeat, Math.min(t, node.due + SLOWEST * this.#heartbeat))
    const oldest = node.beats[node.next]!
    node.beats[node.next] = node.due
    node.next = (node.next + 1) % BEATS
    // Oldest of the last BEATS - 1 intervals.
    const since = node.beats[node.next]!
    if (Number.isNaN(oldest) || t - since >= this.#fastest) return
    const [value, limit] = [(t - since) / (BEATS - 1) / 1e9, this.#c.rig.link.driveHeartbeat]
    this.#tellTwin(j, t, 'heartbeat period', value, limit, BEATING)
  }

  #feedback(j: number, index: number, position: number, t: Nanos): void {
    const node = this.#nodes[j]!
    if (index !== node.index) {
      if (!node.differs || index !== node.index + 1) node.row = 0
      node.index = index
      node.position = position
      node.differs = false
      return
    }
    if (node.differs || position === node.position) return
    node.differs = true
    node.row++
    node.most = Math.max(node.most, node.row)
    const { answers } = this.#c.settings
    if (node.row > answers)
      this.#tellTwin(j, t, 'SYNCs in a row with two answers', node.row, answers, ANSWERING)
  }

  #frame(bus: number, t: Nanos): void {
    const back = this.#heard[bus]! - t
    if (t > this.#heard[bus]!) this.#heard[bus] = t
    if (back <= this.#c.settings.back * 1e9) return
    this.#back++
    const { name } = this.#c.rig.buses[bus]!
    const told = this.#disorder.rises(bus, 1, t)
    if (told) this.#tellDisorder(name, t, back / 1e9, this.#c.settings.back, 'time of a frame')
  }

  /** A tick is late by the first deadline that was not served: the next after the last tick's, or a later one if some were left out on purpose. */
  #tick(k: number, t: Nanos, late: Nanos): void {
    const deadline = t - late
    const periods = k - this.#k
    if (this.#k >= 0) {
      const [first, last] = [this.#served + this.#period, this.#served + periods * this.#period]
      const off = Math.max(first - deadline, deadline - last, 0)
      const limit = this.#c.settings.jump * this.#period
      if (off > limit || k <= this.#k) {
        this.#jumps++
        const told = this.#disorder.rises(this.#heard.length, 1, t)
        if (told) this.#tellDisorder('', t, off / 1e9, limit / 1e9, 'time between ticks')
      }
    }
    this.#served = this.#k < 0 ? deadline : Math.max(deadline, this.#served + periods * this.#period)
    this.#k = k
  }

  #tellTwin(j: number, t: Nanos, quantity: string, value: number, limit: number, says: string): void {
    if (this.#stopped || !this.#twin.rises(j, 2, t)) return
    const { rig } = this.#c
    this.#c.report({
      severity: 'failure',
      place: rig.joints[j]!.name,
      t,
      quantity,
      value,
      limit,
      unit: quantity === 'heartbeat period' ? 's' : 'count',
      says,
      why: 'Two drives with one node number obey the same setpoints from different places, and neither can be stopped alone.',
      look: 'Look for a drive, perhaps of the other arm or a spare one, with the same node number on this bus.',
      stop: rig.stop.category,
    })
  }

  #tellDisorder(place: string, t: Nanos, value: number, limit: number, quantity: string): void {
    const finding: Omit<Finding, 'watch'> = {
      severity: 'doubt',
      place,
      t,
      quantity,
      value,
      limit,
      unit: 's',
      says:
        quantity === 'time of a frame'
          ? 'A frame has an earlier time than one that came before it.'
          : 'The time from one tick to the next does not fit to their numbers.',
      why: 'Speeds, ages and lags are worked out from these times: with them in disorder none is known.',
      look: 'Look at the clock that made the times, and whether the recording was changed or put together.',
      stop: null,
    }
    this.#c.report(finding)
  }
}

const BEATING = 'Heartbeats of this node come much more often than they were set up to: two drives send them.'
const RETURNED =
  'The node says operational again after it had left by itself, and nobody started it: two drives send heartbeats.'
const ANSWERING = 'Each SYNC is answered twice from this node, with different positions: two drives answer.'
