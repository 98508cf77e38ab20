/** Events out of events.jsonl. A last line without its end, as after a kill, is left out and `cut` is said. */
import type { BenchEvent } from '../files/event.js'
import { ChunkedFile, damaged } from './chunked-file.js'
import { EVENT_FIELDS, type FieldType } from './event-fields.js'

const NEWLINE = 10

export class EventReader {
  event: BenchEvent | null = null
  /** Number of frames that come before `event`. */
  after = 0
  /** The file ended in the middle of a line. Meaningful once `next()` has returned false. */
  cut = false
  readonly #file: ChunkedFile
  #line = 0

  /** @throws DrystrokeError `recording-invalid` when there is no such file */
  constructor(path: string) {
    this.#file = new ChunkedFile(path, 1 << 18)
  }

  /** Goes to the next event; false at the end. @throws DrystrokeError `recording-invalid` on damage */
  next(): boolean {
    const file = this.#file
    let searched = 0
    for (;;) {
      const found = file.bytes.subarray(file.at + searched, file.end).indexOf(NEWLINE)
      if (found >= 0) {
        const stop = file.at + searched + found
        const text = file.bytes.toString('utf8', file.at, stop)
        file.at = stop + 1
        this.#line++
        this.#take(text)
        return true
      }
      searched = file.end - file.at
      if (file.more()) continue
      this.cut = searched > 0
      return false
    }
  }

  close(): void {
    this.#file.close()
  }

  #take(text: string): void {
    let value: Record<string, unknown>
    try {
      value = JSON.parse(text) as Record<string, unknown>
    } catch {
      throw this.#bad(shorten(text), 'one JSON object')
    }
    if (value === null || typeof value !== 'object') throw this.#bad(shorten(text), 'one JSON object')
    const { after, kind, t } = value
    if (!Number.isSafeInteger(after) || (after as number) < this.after) {
      throw this.#bad(`"after" ${String(after)}`, `a whole number of at least ${this.after}`)
    }
    if (!Number.isSafeInteger(t) || (t as number) < 0)
      throw this.#bad(`"t" ${String(t)}`, 'whole nanoseconds')
    if (kind === 'tick') this.#checkTick(value)
    else this.#checkFields(value)
    this.after = after as number
    delete value.after
    this.event = value as unknown as BenchEvent
  }

  #checkTick(value: Record<string, unknown>): void {
    if (!Number.isSafeInteger(value.k) || !Number.isSafeInteger(value.late)) {
      throw this.#bad(`a tick with k ${String(value.k)}, late ${String(value.late)}`, 'whole numbers')
    }
    for (const field of ['setpoints', 'witness'] as const) {
      const values = value[field]
      if (values === null) continue
      if (!Array.isArray(values))
        throw this.#bad(`"${field}" ${shorten(String(values))}`, 'positions or null')
      for (let i = 0; i < values.length; i++) {
        if (typeof values[i] !== 'number') values[i] = this.#unusual(values[i], field)
      }
    }
  }

  #checkFields(value: Record<string, unknown>): void {
    const kind = String(value.kind)
    if (!Object.hasOwn(EVENT_FIELDS, kind)) {
      throw this.#bad(`the kind ${shorten(kind)}`, `one of ${Object.keys(EVENT_FIELDS).join(', ')}, tick`)
    }
    const fields: Record<string, FieldType> = EVENT_FIELDS[kind as keyof typeof EVENT_FIELDS]
    for (const field in fields) {
      const type = fields[field]!
      const found = value[field]
      if (type === 'number' && typeof found !== 'number') value[field] = this.#unusual(found, field)
      const good =
        type === 'text'
          ? typeof found === 'string'
          : type === 'truth'
            ? typeof found === 'boolean'
            : type === 'number or null'
              ? found === null || typeof found === 'number'
              : true
      if (!good) throw this.#bad(`"${field}" ${shorten(String(found))}`, type)
    }
  }

  /** NaN and the infinities stand as strings. */
  #unusual(found: unknown, field: string): number {
    if (found === 'NaN') return Number.NaN
    if (found === 'Infinity') return Number.POSITIVE_INFINITY
    if (found === '-Infinity') return Number.NEGATIVE_INFINITY
    throw this.#bad(`"${field}" ${shorten(String(found))}`, 'a number')
  }

  #bad(found: string, expected: string): Error {
    return damaged(this.#file.path, `line ${this.#line}`, found, expected)
  }
}

function shorten(text: string): string {
  return text.length > 60 ? `${text.slice(0, 60)}...` : text
}
