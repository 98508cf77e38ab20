/**
 * A file that is only ever appended to, mostly without a system call a record.
 * What was flushed survives the death of the process; what stands in the buffer does not.
 */
import { closeSync, ftruncateSync, openSync, writeSync } from 'node:fs'
import { DrystrokeError } from '../errors.js'
import { AppendBuffer } from './append-buffer.js'

export class AppendFile extends AppendBuffer {
  readonly #path: string
  #descriptor: number | null

  /**
   * @param path must not exist yet, unless `from` is given
   * @param capacity bytes of the buffer
   * @param from bytes of a file that is there already: what lies behind them is cut off
   * @throws DrystrokeError `file-access`
   */
  constructor(path: string, capacity: number, from: number | null = null) {
    super(capacity)
    this.#path = path
    try {
      this.#descriptor = openSync(path, from === null ? 'wx' : 'a')
      if (from !== null) ftruncateSync(this.#descriptor, from)
    } catch (cause) {
      throw this.#refused(from === null ? 'cannot be created' : 'cannot be gone on with', cause)
    }
  }

  close(): void {
    if (this.#descriptor === null) return
    try {
      this.flush()
    } finally {
      closeSync(this.#descriptor)
      this.#descriptor = null
    }
  }

  /** Past the buffer, which must be empty. @throws DrystrokeError `file-access`, such as a full disk */
  write(bytes: Uint8Array): void {
    if (this.#descriptor === null)
      throw new DrystrokeError('defect', `${this.#path} was written to after it was closed`)
    try {
      for (let done = 0; done < bytes.length; ) done += writeSync(this.#descriptor, bytes, done)
    } catch (cause) {
      throw this.#refused('cannot be written', cause)
    }
  }

  #refused(what: string, cause: unknown): DrystrokeError {
    const reason = cause instanceof Error ? cause.message : String(cause)
    return new DrystrokeError(
      'file-access',
      `${this.#path} ${what}: ${reason}. Check that the disk has room and that the folder may be written to.`,
      { file: this.#path },
      cause,
    )
  }
}
