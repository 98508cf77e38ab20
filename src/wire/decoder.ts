/**
 * From frames to what they say of the rig's joints: a pure fold, the same for a running bench and for a recording.
 *
 * Each frame gives its `frame` observation and then what it means, if it means anything here; of feedback,
 * `feedback` comes before `state`. A frame with an identifier of the rig but the wrong length, remote or extended, is
 * as strange as one with an unknown identifier: nothing of it is believed. Identifiers that only the harness may send
 * (SYNC, NMT, setpoints, controlwords, SDO requests, its heartbeat) are `foreign` when somebody else sent them, whatever
 * they say: watches would otherwise take a second master's setpoints and commands for ours. On a bus that the driver owns these
 * are the driver's, and mean what they say; only the stop PDO (the bus's shared controlword) and our heartbeat are ours there.
 * Buses whose arms speak a frame map have a listener of their own (frame-map/listener.ts).
 */
import type { Nanos } from '../clock.js'
import { DrystrokeError } from '../errors.js'
import type { BusSettings, DriveReports, FramesJoint, Rig } from '../files/rig.js'
import { frameBits } from './bits.js'
import { nmtCommand, nodeState, OUR_NODE, readEmergency } from './cia402/network.js'
import { COB } from './cia402/objects.js'
import { FEEDBACK_BYTES, int16, int32, integer, SETPOINT_BYTES, uint16 } from './cia402/process.js'
import { reportBytes } from './cia402/reports.js'
import { type Scale, toRadians } from './cia402/scale.js'
import { writtenBy } from './cia402/sdo.js'
import { driveCommand, driveState, FOLLOWS_BIT } from './cia402/state.js'
import type { Frame } from './frame.js'
import { MapListener } from './frame-map/listener.js'
import type { ReportedState, WireObservation } from './observation.js'

/** What the decoder needs of a rig. */
type WireRig = Pick<Rig, 'buses' | 'joints'>

/** What an identifier of a bus stands for. */
interface Meaning {
  readonly what:
    | 'sync'
    | 'nmt'
    | 'setpoint'
    | 'feedback'
    | 'report'
    | 'control'
    | 'heartbeat'
    | 'emergency'
    | 'sdo'
    | 'sdo request'
  /** Length that the frame must have. */
  readonly bytes: number
  /** Index of the joint, or -1. */
  readonly joint: number
  /** Only the harness may send it. */
  readonly ours: boolean
}

/** Sent by nobody but the harness, unless the driver owns the bus. */
const oursOn = ({ owner }: BusSettings): Pick<Meaning, 'ours'> => ({ ours: owner === 'harness' })

/** Standard identifiers of one bus: 2048 places each. */
const IDENTIFIERS = 2048

export class Decoder {
  readonly #emit: (o: WireObservation) => void
  /** [bus x 2048 + identifier] */
  readonly #meanings: readonly (Meaning | undefined)[]
  /** [joint] */
  readonly #scales: readonly Scale[]
  /** [joint] N m in one unit of 6077h, in the joint's own direction */
  readonly #torqueUnits: Float64Array
  /** [joint] */
  readonly #states: (ReportedState | undefined)[]
  /** [joint] 1: bit 12 was set */
  readonly #follows: Uint8Array
  /** [bus] */
  readonly #reports: readonly (DriveReports | null)[]
  /** [bus] what listens there when the joints speak a frame map, else null */
  readonly #listeners: readonly (MapListener | null)[]
  /** [bus] index of the last SYNC, -1 before the first */
  readonly #syncs: Int32Array

  /** @param emit called at once for each observation; the object is fresh and may be kept */
  constructor(rig: WireRig, emit: (o: WireObservation) => void) {
    this.#emit = emit
    this.#meanings = meaningsOf(rig)
    this.#reports = rig.buses.map((bus) => bus.reports)
    this.#scales = rig.joints.map((j) => j.wire)
    this.#torqueUnits = Float64Array.from(rig.joints, ({ wire }) =>
      wire.protocol === 'cia402' ? (wire.sign * wire.ratedTorque) / 1000 : Number.NaN,
    )
    this.#listeners = rig.buses.map(({ index }) => {
      const joints = rig.joints.filter(
        (j): j is FramesJoint => j.wire.bus === index && j.wire.protocol === 'frames',
      )
      return joints.length > 0 ? new MapListener(index, joints, emit) : null
    })
    this.#states = rig.joints.map(() => undefined)
    this.#follows = new Uint8Array(rig.joints.length)
    this.#syncs = new Int32Array(rig.buses.length).fill(-1)
  }

  /**
   * @param bus index into the rig's buses
   * @param t when the frame was handed over (`sent`) or its last bit arrived
   * @param sent by the harness itself
   */
  see(bus: number, frame: Frame, t: Nanos, sent: boolean): void {
    const { id, data } = frame
    this.#emit({ kind: 'frame', t, bus, id, sent, bits: frameBits(frame) })
    const listener = this.#listeners[bus]
    if (listener) {
      listener.see(frame, t, sent)
      return
    }
    const known = !frame.extended && id < IDENTIFIERS
    const meaning = known ? this.#meanings[bus * IDENTIFIERS + id] : undefined
    if (meaning?.ours && !sent && !frame.remote) {
      this.#emit({ kind: 'foreign', t, bus, id })
      return
    }
    if (meaning === undefined || frame.remote || data.length !== meaning.bytes) {
      this.#emit({ kind: 'strange', t, bus, id })
      return
    }
    const { joint } = meaning
    switch (meaning.what) {
      case 'sync':
        this.#emit({ kind: 'sync', t, bus, index: ++this.#syncs[bus]! })
        return
      case 'setpoint': {
        const position = toRadians(this.#scales[joint]!, int32(data, 0))
        this.#emit({ kind: 'setpoint', t, joint, index: this.#syncs[bus]! + 1, position })
        return
      }
      case 'feedback':
        this.#seeFeedback(bus, joint, data, t)
        return
      case 'report':
        this.#seeReport(this.#reports[bus]!, joint, data, t)
        return
      case 'control': {
        const word = uint16(data, 0)
        this.#emit({ kind: 'control', t, bus, joint, command: driveCommand(word) ?? 'unknown', word, sent })
        return
      }
      case 'nmt':
        this.#emit({ kind: 'nmt', t, bus, node: data[1]!, command: nmtCommand(data[0]!) ?? 'unknown' })
        return
      case 'heartbeat':
        this.#emit({ kind: 'heartbeat', t, bus, node: id - COB.heartbeat, joint, state: nodeState(data[0]!) })
        return
      case 'emergency': {
        const { code, register } = readEmergency(data)!
        this.#emit({ kind: 'emergency', t, bus, joint, code, register })
        return
      }
      case 'sdo request': {
        const written = sent ? null : writtenBy(data)
        if (written) this.#emit({ kind: 'written', t, joint, ...written })
        return
      }
      case 'sdo':
        return
    }
  }

  /** TPDO2: the objects that the rig names, one after the other. */
  #seeReport({ objects }: DriveReports, joint: number, data: Uint8Array, t: Nanos): void {
    let at = 0
    for (const { what, bytes, signed, scale, offset } of objects) {
      this.#emit({ kind: 'report', t, joint, what, value: integer(data, at, bytes, signed) * scale + offset })
      at += bytes
    }
  }

  /** Feedback: statusword, position, torque (6041h, 6064h, 6077h). */
  #seeFeedback(bus: number, joint: number, data: Uint8Array, t: Nanos): void {
    const word = uint16(data, 0)
    const position = toRadians(this.#scales[joint]!, int32(data, 2))
    const torque = int16(data, 6) * this.#torqueUnits[joint]!
    this.#emit({ kind: 'feedback', t, joint, index: this.#syncs[bus]!, position, torque })

    const state = driveState(word) ?? 'unknown'
    const follows = (word & FOLLOWS_BIT) !== 0
    if (state !== this.#states[joint] || follows !== (this.#follows[joint] === 1)) {
      this.#emit({ kind: 'state', t, joint, state, follows, word })
    }
    this.#states[joint] = state
    this.#follows[joint] = follows ? 1 : 0
  }
}

function meaningsOf(rig: WireRig): (Meaning | undefined)[] {
  const meanings: (Meaning | undefined)[] = new Array(rig.buses.length * IDENTIFIERS).fill(undefined)
  const claim = (
    bus: number,
    id: number,
    what: Meaning['what'],
    bytes: number,
    { joint = -1, ours = false }: Partial<Meaning> = {},
  ): void => {
    const place = bus * IDENTIFIERS + id
    const taken = meanings[place]
    if (taken !== undefined) {
      const name = rig.buses[bus]!.name
      throw new DrystrokeError(
        'defect',
        `identifier ${id.toString(16)}h of bus ${name} stands for ${taken.what} and for ${what}; the rig's loader should have refused this`,
        { bus: name, id },
      )
    }
    meanings[place] = { what, bytes, joint, ours }
  }
  const speaksCia402 = (bus: number): boolean =>
    !rig.joints.some((j) => j.wire.bus === bus && j.wire.protocol === 'frames')
  for (const settings of rig.buses) {
    const { index: bus, controlword } = settings
    if (!speaksCia402(bus)) continue
    claim(bus, COB.nmt, 'nmt', 2, oursOn(settings))
    claim(bus, COB.sync, 'sync', 0, oursOn(settings)) // the counter of 1019h is never set up
    if (controlword !== null) claim(bus, controlword, 'control', 2, { ours: true })
  }
  for (const { index: joint, wire } of rig.joints) {
    const { bus, node } = wire
    if (!speaksCia402(bus)) continue
    const settings = rig.buses[bus]!
    claim(bus, COB.setpoint + node, 'setpoint', SETPOINT_BYTES, { joint, ...oursOn(settings) })
    claim(bus, COB.feedback + node, 'feedback', FEEDBACK_BYTES, { joint })
    const { reports } = settings
    if (reports !== null) claim(bus, COB.reports + node, 'report', reportBytes(reports), { joint })
    if (settings.controlword === null || settings.owner === 'driver') {
      claim(bus, COB.controlword + node, 'control', 2, { joint, ...oursOn(settings) })
    }
    claim(bus, COB.emergency + node, 'emergency', 8, { joint })
    claim(bus, COB.sdoReply + node, 'sdo', 8)
    claim(bus, COB.sdoRequest + node, 'sdo request', 8, { joint, ...oursOn(settings) })
    claim(bus, COB.heartbeat + node, 'heartbeat', 1, { joint })
  }
  // Every other node may have a heartbeat too, the harness's own among them.
  for (const { index: bus } of rig.buses) {
    if (!speaksCia402(bus)) continue
    for (let node = 1; node <= 127; node++) {
      const place = bus * IDENTIFIERS + COB.heartbeat + node
      meanings[place] ??= { what: 'heartbeat', bytes: 1, joint: -1, ours: node === OUR_NODE }
    }
  }
  return meanings
}
