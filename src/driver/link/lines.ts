/** Cuts bytes, however they come in pieces, into lines of text. A line too long for a message is told once, and nothing after it. */
import { StringDecoder } from 'node:string_decoder'

export class Lines {
  readonly #onLine: (line: string) => void
  readonly #onTooLong: (beginning: string) => void
  readonly #longest: number
  readonly #decoder = new StringDecoder('utf8')
  #begun = ''
  #stopped = false

  /** @param longest characters; of a longer line `onTooLong` is given the beginning, and the reader is at its end */
  constructor(longest: number, onLine: (line: string) => void, onTooLong: (beginning: string) => void) {
    this.#longest = longest
    this.#onLine = onLine
    this.#onTooLong = onTooLong
  }

  take(bytes: Uint8Array): void {
    if (this.#stopped) return
    let text = this.#begun + this.#decoder.write(Buffer.from(bytes.buffer, bytes.byteOffset, bytes.length))
    for (let end = text.indexOf('\n'); end >= 0 && !this.#stopped; end = text.indexOf('\n')) {
      const line = text.slice(0, text[end - 1] === '\r' ? end - 1 : end)
      text = text.slice(end + 1)
      if (line.length > this.#longest) this.#tooLong(line)
      else this.#onLine(line)
    }
    this.#begun = this.#stopped ? '' : text
    if (this.#begun.length > this.#longest) this.#tooLong(this.#begun)
  }

  /** No line comes any more, also of what was taken. */
  stop(): void {
    this.#stopped = true
    this.#begun = ''
  }

  #tooLong(line: string): void {
    this.stop()
    this.#onTooLong(line.slice(0, 80))
  }
}
