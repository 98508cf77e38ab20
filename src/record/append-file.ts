/**
 * A file that is only ever appended to, behind one preallocated buffer: no allocation and mostly no system call a record.
 * What was flushed survives the death of the process; what stands in the buffer does not.
 */
import { closeSync, openSync, writeSync } from 'node:fs'
import { DrystrokeError } from '../errors.js'

export class AppendFile {
  readonly bytes: Buffer
  readonly view: DataView
  /** Bytes in the buffer; whoever writes into it moves this on. */
  used = 0
  readonly #path: string
  #descriptor: number | null

  /**
   * @param path must not exist yet
   * @param capacity bytes of the buffer
   * @throws DrystrokeError `file-access`
   */
  constructor(path: string, capacity: number) {
    this.#path = path
    this.bytes = Buffer.alloc(capacity)
    this.view = new DataView(this.bytes.buffer, this.bytes.byteOffset, capacity)
    try {
      this.#descriptor = openSync(path, 'wx')
    } catch (cause) {
      throw this.#refused('cannot be created', cause)
    }
  }

  /** Makes sure that `count` bytes, at most the capacity, can be put at `used`. */
  room(count: number): void {
    if (this.used + count > this.bytes.length) this.flush()
  }

  /** Appends a whole text of any length. */
  text(text: string): void {
    // A character is at most three bytes of UTF-8 for each of its 16-bit units.
    const most = text.length * 3
    if (most > this.bytes.length) {
      this.flush()
      this.#write(Buffer.from(text, 'utf8'))
      return
    }
    this.room(most)
    this.used += this.bytes.write(text, this.used, 'utf8')
  }

  /** @throws DrystrokeError `file-access`, such as a full disk */
  flush(): void {
    const { used } = this
    this.used = 0
    if (used > 0) this.#write(this.bytes.subarray(0, used))
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

  #write(bytes: Uint8Array): void {
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
