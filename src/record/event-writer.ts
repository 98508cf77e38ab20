/** Events to events.jsonl: one JSON object a line, `after` (how many frames came before) first. */
import type { BenchEvent } from '../files/event.js'
import type { AppendBuffer } from './append-buffer.js'
import { EVENT_FIELDS } from './event-fields.js'

/** Most bytes of a position with its comma: those beyond the largest are written as doubles, -1.7976931348623157e+308. */
const POSITION_BYTES = 26
const LARGEST = 1e9

const ZERO = 48

export class EventWriter {
  readonly #file: AppendBuffer

  constructor(file: AppendBuffer) {
    this.#file = file
  }

  /** @param after number of frames recorded before this event */
  event(e: BenchEvent, after: number): void {
    if (e.kind === 'tick') this.#tick(e, after)
    else this.#file.text(eventLine(e, after))
  }

  flush(): void {
    this.#file.flush()
  }

  /** Two hundred of these come a second, with all joints' positions: digits straight into the buffer. */
  #tick(e: Extract<BenchEvent, { kind: 'tick' }>, after: number): void {
    const file = this.#file
    const most = ((e.setpoints?.length ?? 0) + (e.witness?.length ?? 0)) * POSITION_BYTES + 256
    if (most > file.bytes.length) throw new RangeError('More joints than a tick can carry')
    file.room(most)
    this.#ascii(`{"after":${after},"kind":"tick","t":${e.t},"k":${e.k},"late":${e.late},"setpoints":`)
    this.#positions(e.setpoints)
    this.#ascii(',"witness":')
    this.#positions(e.witness)
    this.#ascii('}\n')
  }

  #ascii(text: string): void {
    const { bytes } = this.#file
    let at = this.#file.used
    for (let i = 0; i < text.length; i++) bytes[at++] = text.charCodeAt(i)
    this.#file.used = at
  }

  #positions(values: readonly number[] | null): void {
    if (values === null) {
      this.#ascii('null')
      return
    }
    const { bytes } = this.#file
    bytes[this.#file.used++] = 91 // [
    for (let i = 0; i < values.length; i++) {
      if (i > 0) bytes[this.#file.used++] = 44 // ,
      const value = values[i]!
      if (Math.abs(value) < LARGEST)
        this.#file.used = writeMillionths(bytes, this.#file.used, Math.round(value * 1e6))
      else this.#ascii(number(value))
    }
    bytes[this.#file.used++] = 93 // ]
  }
}

/** Writes `n` / 1e6 as a JSON number, without trailing zeros. @returns the place behind it */
function writeMillionths(bytes: Uint8Array, at: number, n: number): number {
  if (n < 0) {
    bytes[at++] = 45 // -
    n = -n
  }
  let whole = Math.floor(n / 1e6)
  let part = n - whole * 1e6
  let digits = 1
  for (let w = whole; w >= 10; w = Math.floor(w / 10)) digits++
  for (let i = at + digits - 1; i >= at; i--) {
    const tens = Math.floor(whole / 10)
    bytes[i] = ZERO + whole - tens * 10
    whole = tens
  }
  at += digits
  if (part === 0) return at
  bytes[at] = 46 // .
  let last = at
  for (let i = at + 6; i > at; i--) {
    const tens = Math.floor(part / 10)
    const digit = part - tens * 10
    bytes[i] = ZERO + digit
    if (digit !== 0 && last === at) last = i
    part = tens
  }
  return last + 1
}

/** JSON has no NaN and no infinity; they stand as strings, for a gate must be able to say what it refused. */
function number(value: number): string {
  return Number.isFinite(value) ? JSON.stringify(value) : `"${value}"`
}

/** The line of an event other than a tick, with its newline. */
function eventLine(e: Exclude<BenchEvent, { kind: 'tick' }>, after: number): string {
  let line = `{"after":${after},"kind":"${e.kind}","t":${e.t}`
  const values = e as unknown as Record<string, unknown>
  for (const field in EVENT_FIELDS[e.kind]) {
    const value = values[field]
    line += `,"${field}":${typeof value === 'number' ? number(value) : JSON.stringify(value)}`
  }
  return `${line}}\n`
}
