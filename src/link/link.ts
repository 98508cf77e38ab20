/**
 * The one place where joints meet codecs and buses: CiA 402 cyclic synchronous position over CAN.
 *
 * It holds what the drives said, sends what the bench decides, and lets no setpoint pass that the gate refuses.
 * At most one cycle of setpoints is outstanding a bus: while earlier ones wait, later ones are dropped.
 */
import type { Bus, SendResult } from '../bus/contract.js'
import type { Nanos } from '../clock.js'
import type { Rig } from '../files/rig.js'
import { heartbeatFrame, nmtFrame, nodeState, OUR_NODE, SYNC_FRAME } from '../wire/cia402/network.js'
import { COB, OBJECT } from '../wire/cia402/objects.js'
import { controlwordFrame, FEEDBACK_BYTES, int32, setpointFrame, uint16 } from '../wire/cia402/process.js'
import { writeRequest } from '../wire/cia402/sdo.js'
import { CONTROLWORD, driveState, FOLLOWS_BIT } from '../wire/cia402/state.js'
import type { Frame } from '../wire/frame.js'
import type { DriveCommand, NmtCommand } from '../wire/observation.js'
import { Drive } from './drive.js'
import { type Breach, Gate } from './gate.js'
import { GuardedBus } from './guarded-bus.js'

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

type Meaning = 'feedback' | 'heartbeat' | 'sdo'

export class JointLink {
  readonly drives: readonly Drive[]
  readonly #buses: readonly GuardedBus[]
  readonly #gate: Gate
  /** [bus][identifier] -> drive and what the frame means */
  readonly #known: readonly ({ drive: Drive; meaning: Meaning } | undefined)[][]
  /** [bus] -> identifiers that controlwords go to */
  readonly #controlIds: readonly (readonly number[])[]
  /** [bus] frames of the last tick were still waiting when this one began */
  readonly #backlog: boolean[]
  /** No setpoint leaves. */
  #silent = true
  /** A stop is in force: of the controlwords only those that take power away leave. */
  #halted = false

  constructor(rig: Rig, buses: readonly Bus[]) {
    this.#buses = buses.map((bus) => new GuardedBus(bus))
    this.#gate = new Gate(rig)
    this.drives = rig.joints.map(
      (joint) => new Drive(rig, joint, (f) => this.#buses[joint.wire.bus]!.send(f)),
    )
    this.#backlog = buses.map(() => false)
    this.#known = buses.map(() => new Array(2048).fill(undefined))
    for (const drive of this.drives) {
      const { bus, node } = drive.joint.wire
      const known = this.#known[bus]!
      known[COB.feedback + node] = { drive, meaning: 'feedback' }
      known[COB.heartbeat + node] = { drive, meaning: 'heartbeat' }
      known[COB.sdoReply + node] = { drive, meaning: 'sdo' }
    }
    this.#controlIds = buses.map((_, bus) => [
      ...new Set(this.drives.filter((d) => d.joint.wire.bus === bus).map((d) => d.controlwordId)),
    ])
  }

  /** A frame came in on a bus. */
  onFrame(bus: number, f: Frame, t: Nanos): void {
    if (f.extended || f.remote) return
    const known = this.#known[bus]![f.id]
    if (!known) return
    const { drive, meaning } = known
    if (meaning === 'feedback') {
      if (f.data.length !== FEEDBACK_BYTES) return
      const word = uint16(f.data, 0)
      drive.state = driveState(word) ?? 'unknown'
      drive.follows = drive.state === 'operation enabled' && (word & FOLLOWS_BIT) !== 0
      drive.counts = int32(f.data, 2)
      drive.feedbackAt = t
    } else if (meaning === 'sdo') drive.sdo.onReply(f.data, t)
    else if (f.data.length === 1) drive.node = nodeState(f.data[0]!)
  }

  /** SYNC on every bus, in one go: the first act of a tick. What still waits then is the backlog of the tick before. */
  sync(): NotSent[] {
    this.#buses.forEach((bus, i) => {
      this.#backlog[i] = bus.waiting > 0
    })
    return this.#onEveryBus(() => SYNC_FRAME)
  }

  /** Our heartbeat, to be sent only from a finished tick: when the loop dies, the drives notice. */
  heartbeat(): NotSent[] {
    return this.#onEveryBus(() => heartbeatFrame(OUR_NODE, 'operational'))
  }

  /** An NMT command to every node. */
  network(command: NmtCommand): NotSent[] {
    return this.#onEveryBus(() => nmtFrame(command, 0))
  }

  /** An NMT command to the node of one drive. */
  networkTo(drive: Drive, command: NmtCommand): void {
    this.#buses[drive.joint.wire.bus]!.send(nmtFrame(command, drive.joint.wire.node))
  }

  /** A controlword to every drive of the given buses (default all). */
  control(command: DriveCommand, buses: readonly number[] = this.#buses.map((_, i) => i)): NotSent[] {
    const notSent: NotSent[] = []
    if (this.#halted && command !== 'quick stop' && command !== 'disable voltage') return notSent
    for (const bus of buses) {
      for (const id of this.#controlIds[bus]!) {
        const result = this.#buses[bus]!.send(controlwordFrame(id, CONTROLWORD[command]))
        if (result !== 'sent') notSent.push({ bus, reason: result })
      }
    }
    return notSent
  }

  /**
   * The same by SDO, to one drive: reaches a drive whose controlword PDO is not mapped, or whose node is not operational.
   * The reply is not waited for.
   */
  controlBySdo(drive: Drive, command: 'quick stop' | 'disable voltage'): void {
    const { bus, node } = drive.joint.wire
    this.#buses[bus]!.send(writeRequest(node, OBJECT.controlword, CONTROLWORD[command]))
  }

  /**
   * The first act of every stop: from now on no setpoint leaves and no enabling, whoever asks, SDO scripts end, and frames
   * that still wait are taken back.
   * @returns frames taken back, by bus
   */
  halt(): number[] {
    this.#silent = true
    this.#halted = true
    for (const drive of this.drives) drive.sdo.cancel()
    return this.#buses.map((bus) => bus.withdraw())
  }

  /** The stop has been reset and a new start begins: drives may be enabled again. Setpoints wait for `unsilence`. */
  permit(): void {
    this.#halted = false
  }

  /** Setpoints may leave, unless a stop is in force. Only the start-up calls this. */
  unsilence(): void {
    if (!this.#halted) this.#silent = false
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
      const result = this.#buses[bus]!.send(setpointFrame(drive.setpointId, drive.countsOf(setpoint)))
      if (result === 'sent') this.#gate.accept(j, setpoint)
      else notSent.push({ bus, reason: result })
    }
    return { breach: null, dropped, notSent }
  }

  #onEveryBus(make: () => Frame): NotSent[] {
    const notSent: NotSent[] = []
    this.#buses.forEach((bus, i) => {
      const result = bus.send(make())
      if (result !== 'sent') notSent.push({ bus: i, reason: result })
    })
    return notSent
  }
}
