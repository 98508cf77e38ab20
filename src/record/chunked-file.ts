/** A file read forwards in pieces through one buffer, so that a recording of any length takes the same memory. */
import { closeSync, openSync, readSync } from 'node:fs'
import { DrystrokeError } from '../errors.js'

/** Longest single record (a block, a line) that is believed. */
const LONGEST = 16 << 20

export class ChunkedFile {
  readonly path: string
  bytes: Buffer
  view: DataView
  /** The unread bytes are `bytes[at .. end)`. */
  at = 0
  end = 0
  #passed = 0
  #descriptor: number | null

  /** @throws DrystrokeError `recording-invalid` when it cannot be opened */
  constructor(path: string, capacity = 1 << 20) {
    this.path = path
    this.bytes = Buffer.allocUnsafe(capacity)
    this.view = new DataView(this.bytes.buffer, this.bytes.byteOffset, capacity)
    try {
      this.#descriptor = openSync(path, 'r')
    } catch (cause) {
      throw unreadable(path, cause)
    }
  }

  /** Place of `at` in the file, in bytes. */
  get offset(): number {
    return this.#passed + this.at
  }

  /** Makes at least `count` unread bytes available; false: the file ends before. Moves `at` and `end`. */
  need(count: number): boolean {
    while (this.end - this.at < count) if (!this.more(count)) return false
    return true
  }

  /** Reads on. False: the end of the file was reached before anything came. @param count unread bytes wished for */
  more(count = 0): boolean {
    if (this.#descriptor === null) return false
    if (count > LONGEST || this.end - this.at >= LONGEST) {
      throw damaged(
        this.path,
        `byte ${this.offset}`,
        `a record of more than ${LONGEST} bytes`,
        'a shorter one',
      )
    }
    this.#makeRoom(count)
    let got: number
    try {
      got = readSync(this.#descriptor, this.bytes, this.end, this.bytes.length - this.end, null)
    } catch (cause) {
      throw unreadable(this.path, cause)
    }
    this.end += got
    return got > 0
  }

  close(): void {
    if (this.#descriptor !== null) closeSync(this.#descriptor)
    this.#descriptor = null
  }

  #makeRoom(count: number): void {
    const left = this.end - this.at
    const wanted = Math.max(count, left + 1)
    const from = this.bytes
    if (wanted > from.length) {
      this.bytes = Buffer.allocUnsafe(2 ** Math.ceil(Math.log2(wanted)))
      this.view = new DataView(this.bytes.buffer, this.bytes.byteOffset, this.bytes.length)
    }
    from.copy(this.bytes, 0, this.at, this.end)
    this.#passed += this.at
    this.at = 0
    this.end = left
  }
}

/** A file of a recording says something that cannot be. */
export function damaged(path: string, where: string, found: string, expected: string): DrystrokeError {
  return new DrystrokeError(
    'recording-invalid',
    `${path}, ${where}: found ${found}, expected ${expected}. The file was changed or damaged after the run; use an untouched copy or run the scenario again.`,
    { file: path, where },
  )
}

function unreadable(path: string, cause: unknown): DrystrokeError {
  const reason = cause instanceof Error ? cause.message : String(cause)
  return new DrystrokeError(
    'recording-invalid',
    `${path} cannot be read: ${reason}. Give the folder that a run left, with all its files.`,
    { file: path },
    cause,
  )
}
