/**
 * What the frames of one bus say whose arms speak a frame map: the same observations as from CiA 402, so that every watch
 * works unchanged. A request frame is the SYNC of such a bus; without one a cycle begins with the setpoint of its first
 * joint. Setpoints act at once, in the cycle in which they are sent.
 *
 * A frame whose length, constants or checksum are wrong, and feedback whose counter stands still, are strange: nothing of
 * them is believed.
 */
import type { Nanos } from '../../clock.js'
import type { FramesJoint, MapCommand, Reported } from '../../files/rig.js'
import { toRadians } from '../cia402/scale.js'
import type { Frame } from '../frame.js'
import type { ReportedState, WireObservation } from '../observation.js'
import { Cycles } from './cycles.js'
import { type FrameCodec, Fresh } from './frame-codec.js'
import { COMMAND_OF, MapCodec } from './map-codec.js'
import { Numbering } from './numbering.js'

/** Signals of feedback that are told as reports. */
const REPORTS: readonly Reported[] = ['temperature', 'voltage', 'current']

interface Meaning {
  readonly use: 'request' | 'setpoint' | 'feedback' | MapCommand
  readonly codec: FrameCodec
  /** Place in the list of the bus's joints, -1: all of them. */
  readonly n: number
}

interface Heard {
  readonly fresh: Fresh
  /** Where feedback answers requests. */
  readonly numbering: Numbering
  state: ReportedState | undefined
}

export class MapListener {
  readonly #bus: number
  readonly #joints: readonly FramesJoint[]
  readonly #codec: MapCodec
  readonly #emit: (o: WireObservation) => void
  readonly #meanings = new Map<number, Meaning[]>()
  readonly #heard: readonly Heard[]
  /** Null: feedback answers requests. */
  readonly #cycles: Cycles | null
  #requests = -1
  /** Numbers that the counter of feedback has; without one it does not matter. */
  readonly #counts: number
  /** What feedback says of a drive besides. */
  readonly #reported: readonly Reported[]

  /** @param joints of this bus, which all speak one map */
  constructor(bus: number, joints: readonly FramesJoint[], emit: (o: WireObservation) => void) {
    this.#bus = bus
    this.#joints = joints
    this.#emit = emit
    this.#codec = new MapCodec(joints[0]!.wire.map)
    const { map, feedback } = this.#codec
    this.#heard = joints.map(() => ({
      fresh: new Fresh(feedback),
      numbering: new Numbering(),
      state: undefined,
    }))
    this.#reported = REPORTS.filter((what) => feedback.has(what))
    this.#counts = feedback.modulus('counter')
    this.#cycles = map.every === null ? null : new Cycles(map.every, joints.length)
    this.#claimAll()
  }

  see(frame: Frame, t: Nanos, sent: boolean): void {
    const { id, data } = frame
    const meanings = frame.extended ? undefined : this.#meanings.get(id)
    if (meanings && !frame.remote && !sent && meanings[0]!.use !== 'feedback') {
      this.#emit({ kind: 'foreign', t, bus: this.#bus, id })
      return
    }
    const meaning = frame.remote ? undefined : meanings?.find((m) => m.codec.fits(data))
    const stale = meaning?.use === 'feedback' && !this.#heard[meaning.n]!.fresh.see(data)
    if (!meaning || stale) this.#emit({ kind: 'strange', t, bus: this.#bus, id })
    else this.#take(meaning, data, t)
  }

  #take({ use, n }: Meaning, data: Uint8Array, t: Nanos): void {
    switch (use) {
      case 'request':
        // Asked one by one, the first joint's request stands for all.
        if (n <= 0) this.#emit({ kind: 'sync', t, bus: this.#bus, index: ++this.#requests })
        return
      case 'setpoint':
        this.#setpoint(n, data, t)
        return
      case 'feedback':
        this.#feedback(n, data, t)
        return
      default: {
        const joint = n < 0 ? -1 : this.#joints[n]!.index
        const word = data.length > 0 ? data[0]! : 0
        this.#emit({ kind: 'control', t, bus: this.#bus, joint, command: COMMAND_OF[use], word, sent: true })
      }
    }
  }

  #setpoint(n: number, data: Uint8Array, t: Nanos): void {
    const { index: joint, wire } = this.#joints[n]!
    const cycles = this.#cycles
    if (cycles && n === 0) this.#emit({ kind: 'sync', t, bus: this.#bus, index: cycles.begin(t) })
    const index = Math.max(0, cycles ? cycles.index : this.#requests)
    const position = toRadians(wire.setpoint, this.#codec.setpoint.number('position', data)!)
    this.#emit({ kind: 'setpoint', t, joint, index, position })
  }

  #feedback(n: number, data: Uint8Array, t: Nanos): void {
    const { index: joint, wire } = this.#joints[n]!
    const { feedback } = this.#codec
    const heard = this.#heard[n]!
    const position = toRadians(wire, feedback.number('position', data)!)
    const torque = wire.turns * (feedback.quantity('torque', data) ?? Number.NaN)
    const count = feedback.number('counter', data) ?? Number.NaN
    const index = this.#cycles
      ? this.#cycles.feedback(n, t, count, this.#counts)
      : this.#answered(heard.numbering, count)
    this.#emit({ kind: 'feedback', t, joint, index, position, torque })
    this.#reports(n, data, t)
    const state = this.#codec.state(data)
    if (state === heard.state) return
    heard.state = state
    const word = feedback.number('state', data)!
    this.#emit({ kind: 'state', t, joint, state, follows: state === 'operation enabled', word })
  }

  #reports(n: number, data: Uint8Array, t: Nanos): void {
    for (const what of this.#reported) {
      const value = this.#codec.feedback.quantity(what, data)!
      this.#emit({ kind: 'report', t, joint: this.#joints[n]!.index, what, value })
    }
  }

  /** @returns the request that feedback answers, -1 before the first */
  #answered(numbering: Numbering, count: number): number {
    const now = this.#requests
    return now < 0 ? -1 : numbering.next(now, now - numbering.index, count, this.#counts, 0)
  }

  #claimAll(): void {
    const { request, setpoint, feedback, commands } = this.#codec
    this.#joints.forEach(({ wire: { node } }, n) => {
      if (request) this.#claim(request, 'request', node, n)
      this.#claim(setpoint, 'setpoint', node, n)
      this.#claim(feedback, 'feedback', node, n)
      for (const [use, codec] of commands) this.#claim(codec, use, node, n)
    })
  }

  #claim(codec: FrameCodec, use: Meaning['use'], node: number, n: number): void {
    const id = codec.id(node)
    const meanings = this.#meanings.get(id) ?? []
    this.#meanings.set(id, meanings)
    const shared = codec.shared && use !== 'setpoint' && use !== 'feedback'
    if (!shared || n === 0) meanings.push({ use, codec, n: shared ? -1 : n })
  }
}
