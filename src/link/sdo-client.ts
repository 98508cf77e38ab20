/**
 * One node's SDO channel: runs a script of reads and writes, one request outstanding, each repeated once when no
 * reply comes. Timers are outside: `tick` tells it the time.
 */
import type { Nanos } from '../clock.js'
import type { ObjectEntry } from '../wire/cia402/objects.js'
import {
  beginsSegments,
  readRequest,
  readSdoReply,
  readSegment,
  segmentRequest,
  withSign,
  writeRequest,
} from '../wire/cia402/sdo.js'
import type { Frame } from '../wire/frame.js'
import type { Refusal } from './drive.js'

/**
 * `pause`: nothing is asked until the next tick.
 * `optional`: NaN is handed back where the drive refuses. `text`: what it holds as text goes to `take`, null where the drive refuses or
 * what comes is no text.
 */
export type SdoRequest =
  | { write: ObjectEntry; value: number }
  | { read: ObjectEntry; optional?: boolean }
  | { text: ObjectEntry; take: (text: string | null) => void }
  | { pause: true }

/** Yields requests; is handed the value read (0 for a write); returns a reason to refuse, or nothing when all is well. */
export type SdoScript = Generator<SdoRequest, Refusal | undefined, number>

/** Longer texts are not read. */
const LONGEST_TEXT = 256

/** How often a request is sent, unless the script says otherwise. */
const TRIES = 2

const hex = (n: number, digits = 4): string =>
  `${(n >>> 0).toString(16).toUpperCase().padStart(digits, '0')}h`

export class SdoClient {
  readonly #node: number
  readonly #send: (frame: Frame) => boolean
  readonly #replyWithin: Nanos
  #script: SdoScript | null = null
  #request: Exclude<SdoRequest, { pause: true }> | null = null
  #paused = false
  /** Bytes of a text that came so far, null: no segment was asked for. */
  #text: number[] | null = null
  #toggle: 0 | 1 = 0
  #answered = false
  #sentAt: Nanos = 0
  /** The request has still to be sent. */
  #due = false
  #tries = 0
  #most = TRIES
  #refusal: Refusal | undefined

  /**
   * @param send false: there is no room now; it is tried again at the next tick
   * @param replyWithin s; a request without a reply is repeated after that, or given up
   */
  constructor(node: number, send: (frame: Frame) => boolean, replyWithin: number) {
    this.#node = node
    this.#send = send
    this.#replyWithin = replyWithin * 1e9
  }

  get busy(): boolean {
    return this.#script !== null
  }

  /** The node has replied since the script began. */
  get answered(): boolean {
    return this.#answered
  }

  /** A stop: the script ends where it is, and nothing more of it leaves. */
  cancel(): void {
    this.#end(undefined)
  }

  get refusal(): Refusal | undefined {
    return this.#refusal
  }

  /** @param tries how often each request is sent before the node counts as not answering */
  run(script: SdoScript, t: Nanos, tries = TRIES): void {
    this.#script = script
    this.#most = tries
    this.#refusal = undefined
    this.#answered = false
    this.#advance(0, t)
  }

  /** A frame from 580h + node. Replies to anything but the request under way are not ours, and passed over. */
  onReply(data: Uint8Array, t: Nanos): void {
    const request = this.#request
    if (!request || this.#due) return
    if ('text' in request && this.#onText(request, data, t)) return
    const reply = readSdoReply(data)
    const object = objectOf(request)
    if (!reply || reply.index !== object.index || reply.sub !== object.sub) return
    this.#answered = true
    if (reply.what === 'abort') {
      if ('text' in request) this.#took(request, null, t)
      else if ('read' in request && request.optional) this.#advance(Number.NaN, t)
      else
        this.#end({
          says: `refused to ${'read' in request ? 'give' : 'take'} object ${nameOf(object)}`,
          expected: 'write' in request ? `${request.value} taken` : 'a value',
          found: `SDO abort ${hex(reply.code, 8)}`,
        })
    } else if (reply.what === 'value' && 'text' in request) {
      const { raw, bytes } = reply
      this.#took(
        request,
        [0, 8, 16, 24].slice(0, bytes).map((shift) => (raw >>> shift) & 0xff),
        t,
      )
    } else if (reply.what === 'written' && 'write' in request) this.#advance(0, t)
    else if (reply.what === 'value' && 'read' in request) this.#advance(withSign(reply.raw, object), t)
  }

  tick(t: Nanos): void {
    if (this.#paused) {
      this.#paused = false
      this.#advance(0, t)
      return
    }
    if (!this.#request) return
    if (this.#due) {
      this.#transmit(t)
      return
    }
    if (t - this.#sentAt < this.#replyWithin) return
    if (this.#tries < this.#most) this.#transmit(t)
    else {
      this.#end({
        says: `does not answer for object ${nameOf(objectOf(this.#request))}`,
        expected: `an SDO reply within ${this.#replyWithin / 1e6} ms`,
        found: `none after ${this.#most} requests`,
      })
    }
  }

  /** @returns the frame was a part of the text */
  #onText(request: TextRequest, data: Uint8Array, t: Nanos): boolean {
    if (this.#text === null) {
      if (!beginsSegments(data, request.text)) return false
      this.#text = []
      this.#toggle = 0
    } else {
      const segment = readSegment(data)
      // Another one: the answer to a request that was sent twice.
      if (segment?.toggle !== this.#toggle) return segment !== undefined
      this.#text.push(...segment.data)
      this.#toggle = this.#toggle === 0 ? 1 : 0
      if (segment.last || this.#text.length > LONGEST_TEXT) {
        this.#took(request, this.#text, t)
        return true
      }
    }
    this.#answered = true
    this.#tries = 0
    this.#transmit(t)
    return true
  }

  #took({ take }: TextRequest, bytes: readonly number[] | null, t: Nanos): void {
    take(bytes === null || bytes.length > LONGEST_TEXT ? null : textOf(bytes))
    this.#advance(0, t)
  }

  #advance(value: number, t: Nanos): void {
    const next = this.#script!.next(value)
    if (next.done) {
      this.#end(next.value ?? undefined)
      return
    }
    if ('pause' in next.value) {
      this.#paused = true
      this.#request = null
      return
    }
    this.#request = next.value
    this.#text = null
    this.#tries = 0
    this.#transmit(t)
  }

  #transmit(t: Nanos): void {
    const request = this.#request!
    const sent = this.#send(
      'write' in request
        ? writeRequest(this.#node, request.write, request.value)
        : this.#text !== null
          ? segmentRequest(this.#node, this.#toggle)
          : readRequest(this.#node, objectOf(request)),
    )
    this.#due = !sent
    if (!sent) return
    this.#tries++
    this.#sentAt = t
  }

  #end(refusal: Refusal | undefined): void {
    this.#script = null
    this.#request = null
    this.#due = false
    this.#paused = false
    this.#refusal = refusal
  }
}

type TextRequest = Extract<SdoRequest, { text: ObjectEntry }>

/** Visible text (CiA 301, 7.1.4): what is none of it, such as padding, is left out. */
const textOf = (bytes: readonly number[]): string =>
  String.fromCharCode(...bytes.filter((b) => b >= 0x20 && b < 0x7f)).trim()

const objectOf = (r: Exclude<SdoRequest, { pause: true }>): ObjectEntry =>
  'write' in r ? r.write : 'text' in r ? r.text : r.read
export const nameOf = (o: ObjectEntry): string => `${hex(o.index)}:${o.sub}`
