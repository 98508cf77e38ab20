/** A CiA 402 drive as the link sees it: what its statusword and heartbeat said, its SDO channel, its steps of the start-up. */
import type { Nanos } from '../clock.js'
import type { Cia402Joint, Rig } from '../files/rig.js'
import { nmtFrame, nodeState } from '../wire/cia402/network.js'
import { COB } from '../wire/cia402/objects.js'
import { FEEDBACK_BYTES, int32, uint16 } from '../wire/cia402/process.js'
import { toCounts, toRadians } from '../wire/cia402/scale.js'
import { driveState, FOLLOWS_BIT } from '../wire/cia402/state.js'
import type { DriveCommand, DriveState, NodeState } from '../wire/observation.js'
import { type CalmPlan, Drive, type Refusal } from './drive.js'
import type { Way } from './protocol.js'
import { calm, configure, identify, inquire, seed } from './scripts.js'
import { SdoClient } from './sdo-client.js'
import { controlwordId } from './setup.js'

const WIRING = 'look at power, wiring, termination, bit rate and node id'

/** What brings a drive that says this one step nearer to operation enabled. */
const NEXT: Partial<Record<DriveState | 'unknown', DriveCommand>> = {
  fault: 'fault reset',
  'switch on disabled': 'shutdown',
  'ready to switch on': 'switch on',
  'switched on': 'enable operation',
}

export class Cia402Drive extends Drive {
  readonly setpointId: number
  readonly controlwordId: number
  readonly sdo: SdoClient
  node: NodeState = 'unknown'
  /** Last position reported, counts. */
  counts = 0
  readonly unheardSays = 'sends no feedback although its node was started'
  readonly enabledMeans = 'operation enabled with statusword bit 12'
  readonly #rig: Rig
  readonly #joint: Cia402Joint
  readonly #way: Way
  #calming = false
  /** Time of the last SDO reply. */
  #repliedAt: Nanos = Number.NEGATIVE_INFINITY

  constructor(rig: Rig, joint: Cia402Joint, way: Way) {
    super(joint)
    this.#rig = rig
    this.#joint = joint
    this.#way = way
    this.setpointId = COB.setpoint + joint.wire.node
    this.controlwordId = controlwordId(rig, joint)
    this.sdo = new SdoClient(joint.wire.node, (frame) => way.sendInTurn(frame), rig.link.replyWithin)
  }

  get position(): number {
    return toRadians(this.#joint.wire, this.counts)
  }

  countsOf(position: number): number {
    return toCounts(this.#joint.wire, position)
  }

  #says(word: number, counts: number, t: Nanos): void {
    this.state = driveState(word) ?? 'unknown'
    this.follows = this.state === 'operation enabled' && (word & FOLLOWS_BIT) !== 0
    this.counts = counts
    this.feedbackAt = t
  }

  /** TPDO1: statusword, position, torque. A frame of another length says nothing. */
  onFeedback(data: Uint8Array, t: Nanos): void {
    if (data.length !== FEEDBACK_BYTES) return
    this.#says(uint16(data, 0), int32(data, 2), t)
  }

  /** A reply of its SDO server. */
  onReply(data: Uint8Array, t: Nanos): void {
    this.#repliedAt = t
    this.sdo.onReply(data, t)
  }

  override inquire(t: Nanos): void {
    if (this.sdo.busy) return
    const hear = (word: number, counts: number): void => {
      this.#says(word, counts, this.#repliedAt)
    }
    this.sdo.run(inquire(hear), t, 1)
  }

  onHeartbeat(data: Uint8Array): void {
    if (data.length === 1) this.node = nodeState(data[0]!)
  }

  get next(): DriveCommand | null {
    return NEXT[this.state] ?? null
  }

  get busy(): boolean {
    return this.sdo.busy
  }

  get refusal(): Refusal | undefined {
    const { refusal, answered } = this.sdo
    if (!refusal || !this.#calming || answered) return refusal
    return { ...refusal, says: `does not answer; ${WIRING}` }
  }

  tick(t: Nanos): void {
    this.sdo.tick(t)
  }

  cancel(): void {
    this.sdo.cancel()
  }

  calm(t: Nanos, { polls, patience, onFoundOn }: CalmPlan): void {
    this.#calming = true
    this.node = 'unknown'
    // A node may still be starting up: it is asked for as long as patience lasts.
    this.sdo.run(calm(polls, onFoundOn), t, Math.ceil(patience / this.#rig.link.replyWithin))
  }

  /** A node in NMT stopped hears neither SDO nor controlwords, only NMT. */
  wake(): void {
    if (!this.sdo.answered) this.#way.send(nmtFrame('pre-operational', this.#joint.wire.node))
  }

  forget(): void {
    this.#calming = false
    this.node = 'unknown'
  }

  unready(late: string): Refusal | null {
    if (this.node === 'pre-operational' || this.node === 'boot-up') return null
    return {
      says: `does not report after NMT reset communication; ${WIRING}`,
      expected: `a boot-up message or heartbeat ${late}`,
      found: this.node === 'unknown' ? 'nothing' : `node state ${this.node}`,
    }
  }

  configure(t: Nanos): void {
    const { confirmed } = this
    const onIdentity = (identity: string): void => {
      this.identity = identity
    }
    this.sdo.run(
      (function* (rig, joint) {
        return (yield* identify(confirmed, onIdentity)) ?? (yield* configure(rig, joint))
      })(this.#rig, this.#joint),
      t,
    )
  }

  seed(t: Nanos): void {
    this.sdo.run(
      seed((counts) => {
        this.counts = counts
      }),
      t,
    )
  }

  mute(late: string): Refusal | null {
    if (this.node === 'operational') return null
    return {
      says: 'sends no heartbeat that says operational although its node was started',
      expected: `a heartbeat ${late}`,
      found: this.node === 'unknown' ? 'none' : `node state ${this.node}`,
    }
  }
}
