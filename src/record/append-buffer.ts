/** Something that is only ever appended to, behind one preallocated buffer: no allocation a record. */

export abstract class AppendBuffer {
  readonly bytes: Buffer
  readonly view: DataView
  /** Bytes in the buffer; whoever writes into it moves this on. */
  used = 0

  /** @param capacity bytes of the buffer */
  constructor(capacity: number) {
    this.bytes = Buffer.alloc(capacity)
    this.view = new DataView(this.bytes.buffer, this.bytes.byteOffset, capacity)
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
      this.write(Buffer.from(text, 'utf8'))
      return
    }
    this.room(most)
    this.used += this.bytes.write(text, this.used, 'utf8')
  }

  /** Hands on what stands in the buffer. */
  flush(): void {
    const { used } = this
    this.used = 0
    if (used > 0) this.write(this.bytes.subarray(0, used))
  }

  /** Takes bytes on. They are the caller's again when it returns. */
  protected abstract write(bytes: Uint8Array): void
}
