/**
 * The one place where joints meet codecs and buses, whatever the joints of a bus speak (protocol.ts).
 *
 * It holds what the drives said, sends what the bench decides, and lets no setpoint pass that the gate refuses.
 * At most one cycle of setpoints is outstanding a bus: while earlier ones wait, later ones are dropped.
 */
import type { Bus, SendResult } from '../bus/contract.js'
import type { Nanos } from '../clock.js'
import { isCia402, isFrames, type Rig } from '../files/rig.js'
import type { Frame } from '../wire/frame.js'
import type { DriveCommand, NmtCommand } from '../wire/observation.js'
import { Cia402Protocol } from './cia402.js'
import type { Drive, Notice } from './drive.js'
import { FramesProtocol } from './frames.js'
import { type Breach, Gate } from './gate.js'
import { GuardedBus } from './guarded-bus.js'
import { isStopCommand, leavesWhileListening } from './listening.js'
import type { Count, Protocol, StopCommand, Unchecked, Way } from './protocol.js'

/** A frame that a bus would not take. */
export interface NotSent {
  readonly bus: number
  readonly reason: Exclude<SendResult, 'sent'>
}

/** What became of a cycle's setpoints. */
export interface Cycle {
  /** The first breach: nothing was sent. */
  readonly breach: Breach | null
  /** Buses on which this cycle's setpoints were dropped, earlier ones still waiting. */
  readonly dropped: readonly number[]
  readonly notSent: readonly NotSent[]
}

/** A drive that has said nothing for so long is asked. */
const ASK_AFTER: Nanos = 10e6

export class JointLink {
  readonly drives: readonly Drive[]
  readonly #buses: readonly GuardedBus[]
  readonly #gate: Gate
  /** [bus] */
  readonly #protocols: readonly Protocol[]
  /** [bus] frames of the last tick were still waiting when this one began */
  readonly #backlog: boolean[]
  /** No setpoint leaves. */
  #silent = true
  /** A stop is in force: of the controlwords only those that take power away leave. */
  #halted = false
  /** The driver owns the buses: see listening.ts. */
  #listening: boolean

  /** @param counts `stopCounts` of whoever sent on these buses before; left out: nobody is known */
  constructor(rig: Rig, buses: readonly Bus[], counts: readonly (readonly Count[])[] = []) {
    this.#listening = rig.buses.some(({ owner }) => owner === 'driver')
    this.#buses = buses.map((bus, i) => {
      const settings = rig.buses[i]!
      const mayLeave = (f: Frame): boolean => !this.#listening || leavesWhileListening(settings, f)
      return new GuardedBus(bus, settings.queue, mayLeave)
    })
    this.#gate = new Gate(rig)
    this.#protocols = rig.buses.map(({ index }) => protocolOf(rig, index, this.#buses[index]!, counts[index]))
    this.drives = this.#protocols.flatMap((p) => p.drives).sort((a, b) => a.joint.index - b.joint.index)
    this.#backlog = buses.map(() => false)
  }

  /** The driver owns the buses: nothing leaves but stops and our heartbeat. */
  get listening(): boolean {
    return this.#listening
  }

  /**
   * The driver that owned the buses is known to be gone: from now on SYNC, questions and NMT are ours, so that the drives can be
   * watched to the end. Setpoints and enables stay away.
   */
  own(): void {
    // What waits is the stop's: it is not taken back.
    this.#silent = this.#halted = true
    this.#listening = false
  }

  /** Rolling counters of stop frames, by bus, where these have any; null: nowhere. */
  get stopCounts(): (readonly Count[])[] | null {
    const counts = this.#protocols.map((p) => p.counts())
    return counts.every((c) => c.length === 0) ? null : counts
  }

  /** What cannot be checked in a stage, by bus. */
  unchecked(stage: Unchecked['stage']): Notice[] {
    return this.#protocols.flatMap((p, bus) =>
      p.unchecked.filter((u) => u.stage === stage).map(({ says }) => ({ bus, says })),
    )
  }

  /** A frame came in on a bus. */
  onFrame(bus: number, f: Frame, t: Nanos): void {
    if (!f.extended && !f.remote) this.#protocols[bus]!.hear(f, t)
  }

  /**
   * What opens a tick on every bus (SYNC, or what asks for feedback), in one go: the first act of a tick. What still waits
   * then is the backlog of the tick before.
   */
  sync(): NotSent[] {
    this.#buses.forEach((bus, i) => {
      this.#backlog[i] = bus.waiting > 0
    })
    return this.#listening ? [] : this.#onEveryBus((p) => p.opening())
  }

  /** Before cycles run: feedback where it comes only when it is asked for. */
  ask(): void {
    if (!this.#listening) this.#onEveryBus((p) => (p.asks ? p.opening() : []))
  }

  /** Likewise each drive that has not been heard lately, by the way of its own that it has besides. Once a tick. */
  inquire(t: Nanos): void {
    if (this.#listening) return
    this.ask()
    for (const drive of this.drives) {
      drive.tick(t)
      if (t - drive.feedbackAt >= ASK_AFTER) drive.inquire(t)
    }
  }

  /** Our heartbeat, to be sent only from a finished tick: when the loop dies, the drives notice. */
  heartbeat(): NotSent[] {
    return this.#onEveryBus((p) => orNone(p.heartbeat()))
  }

  /** An NMT command to every node, where nodes know of such a thing. */
  network(command: NmtCommand): NotSent[] {
    return this.#listening ? [] : this.#onEveryBus((p) => orNone(p.network(command)))
  }

  /** A command to every drive of the given buses (default all). */
  control(command: DriveCommand, buses: readonly number[] = this.#buses.map((_, i) => i)): NotSent[] {
    const notSent: NotSent[] = []
    if ((this.#halted || this.#listening) && !isStopCommand(command)) return notSent
    for (const bus of buses) this.#send(bus, this.#protocols[bus]!.control(command), notSent)
    return notSent
  }

  /**
   * A stop command to one drive that did not obey, by another way if its protocol has one.
   * @returns words that go on after "the drive"
   */
  insist(drive: Drive, command: StopCommand): { way: string; next: string } {
    if (this.#listening) return { way: 'the stop PDO', next: 'is told again until it does' }
    const { bus } = drive.joint.wire
    const { frames, way, next } = this.#protocols[bus]!.insist(drive, command)
    this.#send(bus, frames, [])
    return { way, next }
  }

  /**
   * The first act of every stop: from now on no setpoint leaves and no enabling, whoever asks, steps of a start-up end, and
   * frames that still wait are taken back.
   * @returns frames taken back, by bus
   */
  halt(): number[] {
    this.#silent = true
    this.#halted = true
    for (const drive of this.drives) drive.cancel()
    return this.#buses.map((bus) => bus.withdraw())
  }

  /** The stop has been reset and a new start begins: drives may be enabled again. Setpoints wait for `unsilence`. */
  permit(): void {
    this.#halted = false
  }

  /** Setpoints may leave, unless a stop is in force. Only the start-up calls this. */
  unsilence(): void {
    if (!this.#halted && !this.#listening) this.#silent = false
  }

  /**
   * Setpoints before motion: a joint is sent its own measured position until the start-up finds it following; from
   * then on it is held where it was.
   */
  shadow(t: Nanos): Cycle {
    return this.#cycle(t, null)
  }

  /** @param setpoints rad, all joints in rig order, for the end of the coming period */
  cycle(t: Nanos, setpoints: Float64Array): Cycle {
    return this.#cycle(t, setpoints)
  }

  /** rad, where each joint is held: the setpoints last sent. */
  held(out: Float64Array): void {
    for (let j = 0; j < out.length; j++) out[j] = this.#gate.held(j)
  }

  /** rad/s, how fast the setpoints last sent move each joint. */
  speeds(out: Float64Array): void {
    for (let j = 0; j < out.length; j++) out[j] = this.#gate.speed(j)
  }

  #cycle(t: Nanos, setpoints: Float64Array | null): Cycle {
    const dropped: number[] = []
    const notSent: NotSent[] = []
    if (this.#silent) return { breach: null, dropped, notSent }
    for (const drive of this.drives) {
      const j = drive.joint.index
      if (!setpoints && !drive.held) this.#gate.rest(j, drive.position)
      const setpoint = setpoints ? setpoints[j]! : this.#gate.held(j)
      const breach = this.#gate.check(j, setpoint, (t - drive.feedbackAt) / 1e9, drive.position)
      if (breach) return { breach, dropped, notSent }
    }
    for (const drive of this.drives) {
      // Sending a frame can bring a stop about: a watch that sees it, a recording that fails.
      if (this.#silent) break
      const { bus } = drive.joint.wire
      if (this.#backlog[bus]) {
        if (!dropped.includes(bus)) dropped.push(bus)
        continue
      }
      const j = drive.joint.index
      const setpoint = setpoints ? setpoints[j]! : this.#gate.held(j)
      const result = this.#buses[bus]!.send(this.#protocols[bus]!.setpoint(drive, setpoint))
      if (result === 'sent') this.#gate.accept(j, setpoint)
      else notSent.push({ bus, reason: result })
    }
    return { breach: null, dropped, notSent }
  }

  #onEveryBus(make: (p: Protocol) => readonly Frame[]): NotSent[] {
    const notSent: NotSent[] = []
    this.#protocols.forEach((p, bus) => {
      this.#send(bus, make(p), notSent)
    })
    return notSent
  }

  #send(bus: number, frames: readonly Frame[], notSent: NotSent[]): void {
    for (const frame of frames) {
      const reason = this.#buses[bus]!.send(frame)
      if (reason !== 'sent') notSent.push({ bus, reason })
    }
  }
}

const orNone = (frame: Frame | null): readonly Frame[] => (frame ? [frame] : [])

/** A bus without joints speaks CiA 402 to nobody. */
function protocolOf(rig: Rig, bus: number, way: Way, counts?: readonly Count[]): Protocol {
  const joints = rig.joints.filter((j) => j.wire.bus === bus)
  const ownFrames = joints.filter(isFrames)
  if (ownFrames.length > 0) return new FramesProtocol(rig, ownFrames, way, counts)
  return new Cia402Protocol(rig, joints.filter(isCia402), way)
}
