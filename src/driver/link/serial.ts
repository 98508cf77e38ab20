/** A driver behind a line of bytes, such as a serial port: each line of text is one message. */
import type { ByteLine } from '../../bus/byte-line.js'
import type { later } from '../../clock.js'
import { Lines } from './lines.js'
import { LONGEST_MESSAGE, type Way, type WayListener } from './messages.js'

/** ms between two tries to hand over what the port would not take. */
const AGAIN = 1
/** Bytes that may wait: a second of commands at 200 Hz is some 12,000. */
const MOST_WAITING = 16 * 1024

export class ByteLineWay implements Way {
  readonly place: string
  readonly pid = null
  readonly #line: ByteLine
  readonly #listener: WayListener
  readonly #later: typeof later
  readonly #lines: Lines
  open = true
  #begun = false
  #waiting: Uint8Array = new Uint8Array(0)
  #trying = false

  constructor(line: ByteLine, listener: WayListener, again: typeof later) {
    this.#line = line
    this.#listener = listener
    this.#later = again
    this.place = line.place
    this.#lines = new Lines(
      LONGEST_MESSAGE,
      (text) => {
        // What was under way when the port was opened may begin in the middle.
        this.#begun ||= text.startsWith('{')
        if (this.open && this.#begun) listener.onMessage(text)
      },
      (beginning) => {
        if (this.open)
          listener.onLost('rubbish', `a line longer than ${LONGEST_MESSAGE} bytes came: ${beginning}...`)
      },
    )
    line.onBytes((bytes) => this.#lines.take(bytes))
    line.onLost((reason) => this.#lose('lost', reason))
  }

  send(text: string): void {
    if (!this.open) return
    this.#waiting = Buffer.concat([this.#waiting, Buffer.from(`${text}\n`, 'utf8')])
    this.#flush()
    if (this.#waiting.length > MOST_WAITING)
      this.#lose('stalled', `${this.#waiting.length} bytes wait: the line is too slow, or nobody takes them`)
  }

  deafen(): void {
    this.#lines.stop()
  }

  async close(last: readonly string[]): Promise<void> {
    for (const text of last) this.send(text)
    this.abandon()
  }

  abandon(): void {
    if (this.open) this.#line.close()
    this.open = false
  }

  #flush(): void {
    const taken = this.#line.write(this.#waiting, 0, this.#waiting.length)
    // Null: the loss is told by the line itself.
    if (taken === null) return
    this.#waiting = this.#waiting.subarray(taken)
    if (this.#waiting.length === 0 || this.#trying) return
    this.#trying = true
    this.#later(AGAIN, () => {
      this.#trying = false
      if (this.open) this.#flush()
    })
  }

  #lose(...[trouble, says]: Parameters<WayListener['onLost']>): void {
    if (!this.open) return
    this.abandon()
    this.#listener.onLost(trouble, says)
  }
}
