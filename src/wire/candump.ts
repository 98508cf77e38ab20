/**
 * The log text of candump (can-utils, `candump -l`): one line a frame, `(seconds.micros) interface ID#DATA`.
 *
 * Three hexadecimal digits are a standard identifier, eight an extended one; `#R` is a remote frame, a digit after
 * it its data length code; an eight-digit identifier with bit 29 set is the kernel's report of a bus error, not a
 * frame. Some writers add `R` or `T` (received, sent) at the end of the line: read, never written.
 */
import { type Nanos, NS_PER_S } from '../clock.js'
import { DrystrokeError } from '../errors.js'
import type { Frame } from './frame.js'

export type CandumpRecord =
  | {
      readonly what: 'frame'
      readonly t: Nanos
      readonly bus: string
      readonly sent: boolean
      readonly frame: Frame
    }
  /** @param errorClass bits of the kernel's error class (linux/can/error.h); data: its details */
  | {
      readonly what: 'error'
      readonly t: Nanos
      readonly bus: string
      readonly errorClass: number
      readonly data: Uint8Array
    }

export interface CandumpSource {
  /** Name for messages. */
  readonly file?: string
  /** Whole seconds in the text that are time 0, default 0; `first frame`: the whole second of the first line. */
  readonly origin?: number | 'first frame'
}

const ERROR_FLAG = 0x20000000

/**
 * One line, without line end. Nanoseconds below the microsecond are cut off, as candump does.
 * @param bus interface name without white space
 * @param origin whole seconds that are added to `t`, for a log in wall-clock time
 */
export function candumpLine(t: Nanos, bus: string, frame: Frame, origin = 0): string {
  const second = Math.floor(t / NS_PER_S)
  const micros = Math.floor((t - second * NS_PER_S) / 1000)
  const time = `${digits(origin + second, 10, 10)}.${digits(micros, 10, 6)}`
  const id = digits(frame.id, 16, frame.extended ? 8 : 3)
  return `(${time}) ${bus} ${id}#${frame.remote ? remoteText(frame) : hex(frame.data)}`
}

function digits(value: number, radix: number, least: number): string {
  return value.toString(radix).toUpperCase().padStart(least, '0')
}

function hex(data: Uint8Array): string {
  let text = ''
  for (const byte of data) text += digits(byte, 16, 2)
  return text
}

function remoteText(frame: Frame): string {
  return frame.data.length === 0 ? 'R' : `R${frame.data.length}`
}

/**
 * Reads a whole log; empty lines are skipped.
 * @throws DrystrokeError `file-invalid` at the first line that is wrong, naming file and line
 */
export function readCandump(text: string, source: CandumpSource = {}): CandumpRecord[] {
  const records: CandumpRecord[] = []
  const file = source.file ?? 'candump log'
  let origin = source.origin ?? 0
  let number = 0
  for (const line of text.split('\n')) {
    number++
    if (line.trim() === '') continue
    if (origin === 'first frame') origin = Number(/^\((\d+)\./.exec(line)?.[1] ?? 0)
    records.push(readCandumpLine(line, number, file, origin))
  }
  return records
}

/**
 * @param number line number for messages, from 1
 * @throws DrystrokeError `file-invalid`
 */
export function readCandumpLine(
  line: string,
  number: number,
  file = 'candump log',
  origin = 0,
): CandumpRecord {
  const refuse = (found: string, expected: string): never => {
    throw new DrystrokeError('file-invalid', `${file}:${number}: found ${found}; expected ${expected}`, {
      file,
      line: number,
    })
  }
  const [time, bus, body, direction, more] = line.trim().split(/\s+/)
  if (time === undefined || bus === undefined || body === undefined || more !== undefined) {
    return refuse(`"${line.trim()}"`, 'a line such as "(12.345678) can0 123#11223344"')
  }
  if (direction !== undefined && direction !== 'R' && direction !== 'T') {
    return refuse(`"${direction}" after the frame`, 'R (received), T (sent) or nothing')
  }
  const stamp = /^\((\d+)\.(\d{6})\)$/.exec(time)
  if (!stamp)
    return refuse(`the time "${time}"`, 'seconds with six decimals in brackets, such as (12.345678)')
  const t = (Number(stamp[1]) - origin) * NS_PER_S + Number(stamp[2]) * 1000
  if (!Number.isSafeInteger(t)) {
    return refuse(
      `the time ${time}, too large for exact nanoseconds`,
      "times near 0: read it with origin 'first frame'",
    )
  }

  const split = /^([0-9A-Fa-f]+)#(.*)$/.exec(body)
  if (!split) return refuse(`"${body}"`, 'identifier#data, such as 123#11223344')
  const [, idText, content] = split as unknown as [string, string, string]
  if (content.startsWith('#')) return refuse('a CAN FD frame (##)', 'classical CAN frames only')
  const id = Number.parseInt(idText, 16)
  const sent = direction === 'T'

  const remote = /^R([0-8]?)$/.exec(content)
  if (!remote && !/^([0-9A-Fa-f]{2}){0,8}$/.test(content)) {
    return refuse(
      `the data "${content}"`,
      'up to 8 bytes of two hexadecimal digits each, or R with a length up to 8',
    )
  }
  const data = remote ? new Uint8Array(Number(remote[1] || 0)) : bytes(content)

  if (idText.length === 3) {
    if (id > 0x7ff)
      return refuse(`the identifier ${idText}`, 'at most 7FF in three digits; eight digits are extended')
    return { what: 'frame', t, bus, sent, frame: { id, extended: false, remote: remote !== null, data } }
  }
  if (idText.length !== 8)
    return refuse(`the identifier ${idText}`, 'three digits (standard) or eight (extended)')
  if (id <= 0x1fffffff) {
    return { what: 'frame', t, bus, sent, frame: { id, extended: true, remote: remote !== null, data } }
  }
  if (id >= 2 * ERROR_FLAG || remote) {
    return refuse(`the identifier ${idText}`, 'at most 1FFFFFFF, or 20000000 and an error class')
  }
  return { what: 'error', t, bus, errorClass: id - ERROR_FLAG, data }
}

function bytes(text: string): Uint8Array {
  return Uint8Array.from({ length: text.length / 2 }, (_, i) =>
    Number.parseInt(text.slice(2 * i, 2 * i + 2), 16),
  )
}
