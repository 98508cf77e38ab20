/**
 * What the bench process, the guardian and `drystroke stop` say to each other: one JSON value a line. Between bench process
 * and guardian an empty line is a beat, so that a beat costs one byte and no parsing.
 */
import type { Nanos } from '../../clock.js'
import type { Rig } from '../../files/rig.js'
import type { Count } from '../../link/protocol.js'
import type { Halted } from '../halt.js'

/** How the guardian holds a bus of its own. */
export type Hold =
  /** The line was inherited: its descriptor in the guardian. */
  | { readonly by: 'descriptor'; readonly descriptor: number }
  /** The guardian opens the interface itself. */
  | { readonly by: 'interface' }
  /** A bus in the memory of the bench process ends with it. */
  | { readonly by: 'nothing' }

export type ToGuardian =
  /** First of all. `base`: `[s, ns]` of CLOCK_MONOTONIC that is time 0. `holds`: one a bus. */
  | {
      readonly what: 'guard'
      readonly pid: number
      readonly rig: Rig
      readonly holds: readonly Hold[]
      readonly folder: string | null
      readonly base: readonly [number, number]
    }
  /** The stop that was asked for is in force. */
  | { readonly what: 'obeyed' }
  /** What the drives have confirmed of it. */
  | { readonly what: 'drives'; readonly drives: readonly Halted[] }
  /** Of the tick whose beat comes next: rolling counters of stop frames, by bus (`JointLink.stopCounts`). */
  | { readonly what: 'counts'; readonly counts: readonly (readonly Count[])[] }
  /** A driver that owns the buses runs in a process of its own, the first of its group: it is to be ended with the bench process. */
  | { readonly what: 'driver'; readonly pid: number }
  | { readonly what: 'good-bye' }

export type ToBench =
  /** Everything is loaded and held. `fifo`: its real-time priority, null: not granted. */
  | { readonly what: 'ready'; readonly fifo: number | null }
  /** It cannot guard. */
  | { readonly what: 'failed'; readonly says: string }
  /** Another terminal wants the arms stopped. */
  | { readonly what: 'stop' }

/** From `drystroke stop`. */
export interface Ask {
  readonly what: 'stop'
}

export type ToAsker =
  /** At once. `stops`: the drives that it will stop, by all of their names. */
  | { readonly what: 'heard'; readonly rig: string; readonly stops: readonly string[] }
  /** Once the drives have confirmed, or were given their time. `by`: who stopped them. */
  | {
      readonly what: 'stopped'
      readonly by: 'bench' | 'guardian'
      readonly drives: readonly Halted[]
      /** Time of the answer, of the same clock as the drives' times. */
      readonly t: Nanos
    }

/** Longer lines are nothing of ours. */
const LONGEST = 1 << 22

/** Bytes in pieces of any length to whole lines, without their line feeds. */
export class LineReader {
  #rest: string[] = []
  #length = 0

  read(bytes: Uint8Array, onLine: (line: string) => void): void {
    let from = 0
    for (let end = bytes.indexOf(LF); end >= 0; end = bytes.indexOf(LF, from)) {
      if (this.#length === 0 && end === from) onLine('')
      else {
        this.#keep(bytes, from, end)
        const line = this.#rest.join('')
        this.#rest = []
        this.#length = 0
        onLine(line)
      }
      from = end + 1
    }
    if (from < bytes.length) this.#keep(bytes, from, bytes.length)
  }

  #keep(bytes: Uint8Array, from: number, to: number): void {
    this.#length += to - from
    if (this.#length > LONGEST) throw new Error(`a line of more than ${LONGEST} bytes`)
    this.#rest.push(Buffer.from(bytes.buffer, bytes.byteOffset + from, to - from).toString('latin1'))
  }
}

const LF = 0x0a

/** Characters beyond ASCII are escaped: a line can be cut anywhere. */
export function lineOf(message: ToGuardian | ToBench | Ask | ToAsker): string {
  const escaped = (c: string): string => `\\u${c.charCodeAt(0).toString(16).padStart(4, '0')}`
  return `${JSON.stringify(message).replace(/[\u0080-\uffff]/g, escaped)}\n`
}

export const BEAT: Uint8Array = Uint8Array.of(LF)
