/**
 * One node's SDO channel: runs a script of reads and writes, one request outstanding, each repeated once when no
 * reply comes. Timers are outside: `tick` tells it the time.
 */
import type { Nanos } from '../clock.js'
import type { ObjectEntry } from '../wire/cia402/objects.js'
import { readRequest, readSdoReply, withSign, writeRequest } from '../wire/cia402/sdo.js'
import type { Frame } from '../wire/frame.js'
import type { Refusal } from './drive.js'

/** `pause`: nothing is asked until the next tick. */
export type SdoRequest = { write: ObjectEntry; value: number } | { read: ObjectEntry } | { pause: true }

/** Yields requests; is handed the value read (0 for a write); returns a reason to refuse, or nothing when all is well. */
export type SdoScript = Generator<SdoRequest, Refusal | undefined, number>

/** How often a request is sent, unless the script says otherwise. */
const TRIES = 2

const hex = (n: number, digits = 4): string =>
  `${(n >>> 0).toString(16).toUpperCase().padStart(digits, '0')}h`

export class SdoClient {
  readonly #node: number
  readonly #send: (frame: Frame) => void
  readonly #replyWithin: Nanos
  #script: SdoScript | null = null
  #request: Exclude<SdoRequest, { pause: true }> | null = null
  #paused = false
  #answered = false
  #sentAt: Nanos = 0
  #tries = 0
  #most = TRIES
  #refusal: Refusal | undefined

  /** @param replyWithin s; a request without a reply is repeated after that, or given up */
  constructor(node: number, send: (frame: Frame) => void, replyWithin: number) {
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
    if (!request) return
    const reply = readSdoReply(data)
    const object = objectOf(request)
    if (!reply || reply.index !== object.index || reply.sub !== object.sub) return
    this.#answered = true
    if (reply.what === 'abort') {
      this.#end({
        says: `refused to ${'read' in request ? 'give' : 'take'} object ${nameOf(object)}`,
        expected: 'write' in request ? `${request.value} taken` : 'a value',
        found: `SDO abort ${hex(reply.code, 8)}`,
      })
    } else if (reply.what === 'written' && 'write' in request) this.#advance(0, t)
    else if (reply.what === 'value' && 'read' in request) this.#advance(withSign(reply.raw, object), t)
  }

  tick(t: Nanos): void {
    if (this.#paused) {
      this.#paused = false
      this.#advance(0, t)
      return
    }
    if (!this.#request || t - this.#sentAt < this.#replyWithin) return
    if (this.#tries < this.#most) this.#transmit(t)
    else {
      this.#end({
        says: `does not answer for object ${nameOf(objectOf(this.#request))}`,
        expected: `an SDO reply within ${this.#replyWithin / 1e6} ms`,
        found: `none after ${this.#most} requests`,
      })
    }
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
    this.#tries = 0
    this.#transmit(t)
  }

  #transmit(t: Nanos): void {
    const request = this.#request!
    this.#tries++
    this.#sentAt = t
    this.#send(
      'write' in request
        ? writeRequest(this.#node, request.write, request.value)
        : readRequest(this.#node, request.read),
    )
  }

  #end(refusal: Refusal | undefined): void {
    this.#script = null
    this.#request = null
    this.#paused = false
    this.#refusal = refusal
  }
}

const objectOf = (r: Exclude<SdoRequest, { pause: true }>): ObjectEntry => ('write' in r ? r.write : r.read)
export const nameOf = (o: ObjectEntry): string => `${hex(o.index)}:${o.sub}`
