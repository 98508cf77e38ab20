/**
 * What the bench process and its parent say to each other over their socket: a byte for the kind, four for the length
 * (little endian), then the payload. `records` carries the bytes of both files of a recording, everything else is JSON.
 */
import type { Nanos } from '../../clock.js'
import { DrystrokeError, type ErrorContext } from '../../errors.js'
import type { OutsideStop, Stage } from '../../files/event.js'
import type { RecordedLength } from '../../record/write.js'

/** What the bench process is to play: texts, for it loads them itself. */
export interface Job {
  readonly rigText: string
  readonly scenarioText: string
  /** As they shall stand in messages. */
  readonly rigFile: string
  readonly scenarioFile: string
  readonly seed: number
  /** Socket of the stand-in that the arms are; null: simulated here, or real. */
  readonly standIn: string | null
  /** Led by a person, joint by joint, instead of by the scenario. */
  readonly jog: boolean
  /** The approach runs only while a key is held. */
  readonly hold: boolean
  /** Of each joint, the drive that was confirmed (`showDrive`), null: any. Null altogether: none was. */
  readonly drives: readonly (string | null)[] | null
  /** Bytes of records that may wait to be written; what comes beyond is dropped and counted. */
  readonly backlog: number
  /** Of the rig's stops from other terminals, before a person let the arms move; another one by now stops the run. */
  readonly stopMark: string
}

/** An error of the bench process, for its parent to throw. */
export interface Problem {
  /** Code of a DrystrokeError, null: a defect of ours. */
  readonly code: string | null
  readonly message: string
  readonly context: ErrorContext
}

/** What is known of the arms, by joint; null: not heard yet. Times are those of the recording. */
export interface ArmsSeen {
  readonly t: Nanos
  readonly stage: Stage | null
  /** No move is under way. */
  readonly resting: boolean
  /** rad */
  readonly positions: readonly (number | null)[]
  /** Time of the last feedback. */
  readonly seen: readonly (number | null)[]
  /** Since when its drive has said that it has no voltage (statusword bit 4); null: it says that it has. */
  readonly off: readonly (number | null)[]
  /** Since when the joint has been at rest by its feedback; null: it moves. */
  readonly rest: readonly (number | null)[]
  /** Who the drives say that they are (`showDrive`). */
  readonly drives: readonly (string | null)[]
  /** Why the arms were stopped. */
  readonly stop: string | null
}

/** What a jog is told. */
export type JogOrder =
  /** One joint to `angle` (rad) from where it began. */
  | { readonly kind: 'move'; readonly joint: number; readonly angle: number }
  /** Simulated arms: their power goes. */
  | { readonly kind: 'unpower' }
  /** Arms to rest and without torque. */
  | { readonly kind: 'finish' }

/** From the parent. */
export type Order =
  | JogOrder
  | { readonly kind: 'job'; readonly job: Job }
  /** The folder of the recording is there: the run may begin. */
  | { readonly kind: 'go'; readonly folder: string }
  /** So much of either file is with the operating system. */
  | { readonly kind: 'written'; readonly length: RecordedLength }
  | { readonly kind: 'stop'; readonly stop: OutsideStop }
  /** The key that holds the approach came. */
  | { readonly kind: 'held' }
  /** The recording cannot be written. */
  | { readonly kind: 'unwritten'; readonly says: string }

/** From the bench process. */
export type Report =
  /** Buses are open, nothing was sent: waits for `go`. */
  | { readonly kind: 'ready' }
  /** Real arms are guarded from now on. `pid`: of the guardian, which outlives the bench process. */
  | { readonly kind: 'guarded'; readonly pid: number }
  | { readonly kind: 'progress'; readonly scenarioTime: number | null; readonly stage: string }
  /** Jog: what the arms say. */
  | { readonly kind: 'arms'; readonly arms: ArmsSeen }
  /** A line that the driver under test wrote for people. */
  | { readonly kind: 'said'; readonly says: string }
  /** Last: the arms are at rest and every record was sent. */
  | { readonly kind: 'ended'; readonly problem: Problem | null }

export type Message<T> =
  | T
  | { readonly kind: 'records'; readonly frames: Uint8Array; readonly events: Uint8Array }

const JSON_MESSAGE = 1
const RECORDS = 2
const HEAD = 5
/** Longer ones are not believed. */
const LONGEST = 256 << 20

export function encodeMessage(message: Order | Report): Buffer {
  const payload = Buffer.from(JSON.stringify(message), 'utf8')
  return Buffer.concat([head(JSON_MESSAGE, payload.length), payload])
}

export function encodeRecords(frames: Uint8Array, events: Uint8Array): Buffer {
  const split = Buffer.alloc(4)
  split.writeUInt32LE(frames.length)
  return Buffer.concat([head(RECORDS, 4 + frames.length + events.length), split, frames, events])
}

function head(kind: number, length: number): Buffer {
  const bytes = Buffer.alloc(HEAD)
  bytes[0] = kind
  bytes.writeUInt32LE(length, 1)
  return bytes
}

/** Cuts a stream of bytes, however it comes in pieces, into messages. */
export class MessageReader<T extends Order | Report> {
  readonly #onMessage: (message: Message<T>) => void
  #pieces: Uint8Array[] = []
  #held = 0
  /** Bytes of the present message with its head; HEAD while that is not known. */
  #wanted = HEAD

  constructor(onMessage: (message: Message<T>) => void) {
    this.#onMessage = onMessage
  }

  /** @throws DrystrokeError `defect` on bytes that are no message */
  take(bytes: Uint8Array): void {
    this.#pieces.push(bytes)
    this.#held += bytes.length
    while (this.#held >= this.#wanted) {
      const [first] = this.#pieces
      const all =
        this.#pieces.length === 1
          ? Buffer.from(first!.buffer, first!.byteOffset, first!.length)
          : Buffer.concat(this.#pieces)
      this.#pieces = [all]
      if (this.#wanted === HEAD) {
        this.#wanted += lengthIn(all)
        continue
      }
      const message = all.subarray(0, this.#wanted)
      const rest = all.subarray(this.#wanted)
      this.#pieces = [rest]
      this.#held = rest.length
      this.#wanted = HEAD
      this.#onMessage(decode<T>(message[0]!, message.subarray(HEAD)))
    }
  }
}

function lengthIn(head: Buffer): number {
  const kind = head[0]!
  const length = head.readUInt32LE(1)
  const least = kind === RECORDS ? 4 : 2
  if ((kind === JSON_MESSAGE || kind === RECORDS) && length >= least && length <= LONGEST) return length
  throw new DrystrokeError('defect', `Bench process and parent: kind ${kind}, length ${length} is no message`)
}

function decode<T>(kind: number, payload: Buffer): Message<T> {
  if (kind === JSON_MESSAGE) return JSON.parse(payload.toString('utf8')) as T
  const split = 4 + payload.readUInt32LE(0)
  if (split > payload.length)
    throw new DrystrokeError('defect', 'Bench process and parent: records that are longer than their message')
  return { kind: 'records', frames: payload.subarray(4, split), events: payload.subarray(split) }
}
