/**
 * A simulated drive as a CANopen node (CiA 301): boot-up, NMT states, heartbeat, SDO server, PDO traffic,
 * emergencies. What the values mean is the drive's (device.ts).
 *
 * SDO and emergencies work in pre-operational and operational, PDOs in operational only, nothing but
 * heartbeat and NMT in stopped.
 *
 * Not modelled: guarding, time stamps, the node's own SYNC, LSS, inhibit times, remote requests; a reset node
 * loses its set-up and boots again, its drive's power-on time aside. A frame that the node's own queue
 * refuses is lost.
 */
import type { Bus } from '../bus/contract.js'
import { type Nanos, NS_PER_S, nanos, type Scheduler } from '../clock.js'
import { emergencyFrame, heartbeatFrame, nmtCommand, readConsumerHeartbeat } from '../wire/cia402/network.js'
import { COB, OBJECT } from '../wire/cia402/objects.js'
import {
  ABORT,
  abortReply,
  readReply,
  readSegmentRequest,
  segmentedReply,
  segmentReply,
  writeReply,
} from '../wire/cia402/sdo.js'
import type { Frame } from '../wire/frame.js'
import type { NodeState } from '../wire/observation.js'
import { type Dictionary, type Entry, entry, type SdoAnswer } from './dictionary.js'
import type { LineFaults } from './faults/line.js'
import type { Pdo } from './pdo.js'
import { Timer } from './timer.js'

/**
 * s from power-on to the boot-up message, and later by this for each number of the node's id: nodes do not
 * boot as one.
 */
const BOOTS = { first: 0.002, each: 0.0001 }
/** Bytes of a segment (CiA 301, 7.2.4.3.6). */
const SEGMENT = 7
/** s that the SDO server takes for an answer. Invented. */
const SDO_TAKES = 0.0002
/** Emergency: a PDO was too short for its mapping. */
const PDO_TOO_SHORT = 0x8210
const COMMUNICATION_ERROR = 0x11

/** The drive that the node belongs to. */
export interface Application {
  /** The node has booted, at power-on or after a reset. */
  booted(): void
  /** The node is reset: forget everything. */
  reset(): void
  /** SYNC; synchronous setpoints have been written before, feedback is sampled after. */
  sync(t: Nanos): void
  heartbeat(t: Nanos): void
  /** ns from a SYNC until the feedback sampled there is offered to the bus */
  feedbackDelay(): Nanos
}

export interface NodeParts {
  readonly id: number
  readonly port: Bus
  readonly scheduler: Scheduler
  readonly dictionary: Dictionary
  readonly receive: readonly Pdo[]
  readonly transmit: readonly Pdo[]
  readonly line: LineFaults
  readonly application: Application
}

// What a frame means to this node, by its identifier: a set of these bits, and one bit for each receive PDO
// above them.
const FOR_NMT = 1
const FOR_SYNC = 2
const FOR_SDO = 4
const FOR_HEARTBEAT = 8
const FOR_PDO = 16

export class CanNode {
  readonly #parts: NodeParts
  readonly #meaning = new Uint16Array(2048)
  readonly #producer: Entry
  readonly #consumer: Entry
  readonly #beat: Timer
  #text: {
    readonly bytes: Uint8Array
    readonly toggle: 0 | 1
    readonly index: number
    readonly sub: number
  } | null = null
  #state: Exclude<NodeState, 'unknown'> = 'boot-up'
  #generation = 0
  #powered = true

  constructor(parts: NodeParts) {
    this.#parts = parts
    const { dictionary, scheduler } = parts
    this.#producer = entry(OBJECT.producerHeartbeat, 0)
    this.#consumer = entry(OBJECT.consumerHeartbeat, 0)
    this.#producer.written = () => {
      this.#beat.cancel()
      this.#scheduleBeat()
    }
    this.#consumer.written = () => this.route()
    dictionary.add([this.#producer, this.#consumer])
    this.#beat = new Timer(scheduler, () => {
      if (!parts.line.noHeartbeat) this.#send(heartbeatFrame(parts.id, this.#state))
      if (parts.line.twin !== null) this.#send(heartbeatFrame(parts.id, this.#state))
      this.#scheduleBeat()
    })
    parts.port.onFrame((frame, t) => this.#hear(frame, t))
    this.#boot()
  }

  /** 1016h: ns after which the host's silence counts, 0 = not watched. */
  get consumerTime(): Nanos {
    const { node, ms } = readConsumerHeartbeat(this.#consumer.value)
    return node === 0 ? 0 : nanos(ms / 1000)
  }

  onConsumerTime(written: () => void): void {
    this.#consumer.written = () => {
      this.route()
      written()
    }
  }

  /** Works out anew what each identifier means, after a COB-ID was written. */
  route(): void {
    const { id, receive } = this.#parts
    const meaning = this.#meaning
    meaning.fill(0)
    meaning[COB.nmt] = FOR_NMT
    meaning[COB.sync] = FOR_SYNC
    meaning[COB.sdoRequest + id] = FOR_SDO
    const { node, ms } = readConsumerHeartbeat(this.#consumer.value)
    if (ms > 0 && node > 0 && node < 128) meaning[COB.heartbeat + node]! |= FOR_HEARTBEAT
    receive.forEach((pdo, i) => {
      if (pdo.id >= 0) meaning[pdo.id]! |= FOR_PDO << i
    })
  }

  emergency(code: number, register: number): void {
    if (this.#state === 'operational' || this.#state === 'pre-operational') {
      this.#send(emergencyFrame(this.#parts.id, code, register))
    }
  }

  /** What 1029h asks for when the link is lost: 0 = pre-operational, 1 = no change, 2 = stopped. */
  retreat(behaviour: number): void {
    if (this.#state !== 'operational') return
    if (behaviour === 0) this.#enter('pre-operational')
    else if (behaviour === 2) this.#enter('stopped')
  }

  /** Something in the drive has changed: event-driven PDOs are sent. */
  changed(): void {
    if (this.#state !== 'operational') return
    for (const pdo of this.#parts.transmit) {
      if (pdo.id >= 0 && pdo.everySync === 0) this.#feed(pdo, null)
    }
  }

  #boot(): void {
    const { id, scheduler, application } = this.#parts
    const generation = ++this.#generation
    this.#state = 'boot-up'
    scheduler.at(scheduler.now() + nanos(BOOTS.first + BOOTS.each * id), () => {
      if (generation !== this.#generation) return
      this.route()
      this.#send(heartbeatFrame(id, 'boot-up'))
      this.#state = 'pre-operational'
      application.booted()
    })
  }

  #hear(frame: Frame, t: Nanos): void {
    const meaning = this.#meaning[frame.id]
    if (!meaning || frame.extended || frame.remote || this.#state === 'boot-up') return
    if (meaning === FOR_SYNC) this.#sync(t)
    else if (meaning >= FOR_PDO) this.#receivePdo(frame, meaning)
    else if (meaning === FOR_SDO) this.#serve(frame)
    else if (meaning === FOR_NMT) this.#command(frame)
    if (meaning & FOR_HEARTBEAT) this.#parts.application.heartbeat(t)
  }

  #command({ data }: Frame): void {
    if (data.length < 2 || (data[1] !== 0 && data[1] !== this.#parts.id)) return
    switch (nmtCommand(data[0]!)) {
      case 'start':
        this.#enter('operational')
        break
      case 'stop':
        this.#enter('stopped')
        break
      case 'pre-operational':
        this.#enter('pre-operational')
        break
      case 'reset node':
        this.#reset(0x0000, 0xffff)
        break
      case 'reset communication':
        this.#reset(0x1000, 0x1fff)
        break
      case undefined:
    }
  }

  #enter(state: 'operational' | 'pre-operational' | 'stopped'): void {
    if (state === this.#state) return
    this.#state = state
    for (const pdo of this.#parts.receive) pdo.latched = null
    for (const pdo of this.#parts.transmit) pdo.syncs = 0
    this.changed()
  }

  /** Without power a node forgets everything and neither hears nor speaks; with it, it boots. */
  power(on: boolean): void {
    if (on === this.#powered) return
    this.#powered = on
    if (on) this.#boot()
    else {
      this.#forget(0x0000, 0xffff)
      this.#state = 'boot-up'
      this.#generation++
    }
  }

  #reset(first: number, last: number): void {
    this.#forget(first, last)
    this.#boot()
  }

  #forget(first: number, last: number): void {
    const { dictionary, receive, transmit, application } = this.#parts
    dictionary.restore(first, last)
    for (const pdo of receive) pdo.compile()
    for (const pdo of transmit) pdo.compile()
    this.#beat.cancel()
    if (first === 0) application.reset()
    this.#consumer.written?.(0, 'sdo')
  }

  #serve({ data }: Frame): void {
    if (this.#state === 'stopped' || data.length !== 8 || this.#parts.line.unanswered) return
    const { id, dictionary, scheduler } = this.#parts
    const toggle = readSegmentRequest(data)
    if (toggle !== undefined) {
      this.#serveSegment(toggle)
      return
    }
    const answer = dictionary.serve(data)
    if (answer === undefined) return
    const reply =
      answer.what === 'value'
        ? readReply(id, answer.object, answer.value)
        : answer.what === 'written'
          ? writeReply(id, answer.index, answer.sub)
          : answer.what === 'text'
            ? this.#beginText(answer)
            : abortReply(id, answer.index, answer.sub, answer.code)
    scheduler.at(scheduler.now() + nanos(SDO_TAKES), () => this.#send(reply))
  }

  /** A text goes out in segments of 7 bytes, each asked for. */
  #beginText({ index, sub, text }: Extract<SdoAnswer, { what: 'text' }>): Frame {
    this.#text = { bytes: new TextEncoder().encode(text), toggle: 0, index, sub }
    return segmentedReply(this.#parts.id, index, sub, this.#text.bytes.length)
  }

  #serveSegment(toggle: 0 | 1): void {
    const { id, scheduler } = this.#parts
    const under = this.#text
    let reply = abortReply(id, under?.index ?? 0, under?.sub ?? 0, ABORT.toggle)
    if (under === null) reply = abortReply(id, 0, 0, ABORT.command)
    else if (toggle === under.toggle) {
      const last = under.bytes.length <= SEGMENT
      reply = segmentReply(id, toggle, under.bytes.slice(0, SEGMENT), last)
      this.#text = last ? null : { ...under, bytes: under.bytes.slice(SEGMENT), toggle: toggle === 0 ? 1 : 0 }
    }
    scheduler.at(scheduler.now() + nanos(SDO_TAKES), () => this.#send(reply))
  }

  #receivePdo({ data }: Frame, meaning: number): void {
    if (this.#state !== 'operational') return
    const { receive } = this.#parts
    for (let i = 0; i < receive.length; i++) {
      if ((meaning & (FOR_PDO << i)) === 0) continue
      const pdo = receive[i]!
      if (pdo.everySync > 0) pdo.latched = data
      else if (!pdo.unpack(data, 'at once')) this.emergency(PDO_TOO_SHORT, COMMUNICATION_ERROR)
    }
  }

  #sync(t: Nanos): void {
    if (this.#state === 'stopped') return
    const { receive, transmit, application } = this.#parts
    for (const pdo of receive) {
      const data = pdo.latched
      if (data === null) continue
      pdo.latched = null
      if (!pdo.unpack(data, 'at sync')) this.emergency(PDO_TOO_SHORT, COMMUNICATION_ERROR)
    }
    application.sync(t)
    if (this.#state !== 'operational') return
    for (const pdo of transmit) {
      if (pdo.id < 0 || pdo.everySync === 0 || ++pdo.syncs < pdo.everySync) continue
      pdo.syncs = 0
      this.#feed(pdo, application)
    }
  }

  /** Sends feedback: at once, or as late as the drive says. */
  #feed(pdo: Pdo, drive: Application | null): void {
    const { scheduler, line } = this.#parts
    const frame = pdo.pack()
    const delay = drive === null ? 0 : drive.feedbackDelay()
    line.feed(scheduler, frame, delay, this.#sendFeedback)
    if (line.twin !== null)
      line.feed(
        scheduler,
        line.twin(() => pdo.pack()),
        delay,
        this.#sendFeedback,
      )
  }

  /** Left the operational state in the meantime: a PDO must not go out any more. */
  readonly #sendFeedback = (frame: Frame): void => {
    if (this.#state === 'operational') this.#send(frame)
  }

  /** Another node with the same number boots beside this one. */
  twinBoots(): void {
    this.#send(heartbeatFrame(this.#parts.id, 'boot-up'))
  }

  #scheduleBeat(): void {
    const ms = this.#producer.value
    if (ms > 0) this.#beat.at(this.#parts.scheduler.now() + (ms * NS_PER_S) / 1000)
  }

  #send(frame: Frame): void {
    if (this.#powered && !this.#parts.line.silent) this.#parts.port.send(frame)
  }
}
