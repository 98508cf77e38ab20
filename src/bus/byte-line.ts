/**
 * A line of bytes to an adapter: a serial port or a TCP connection.
 *
 * Every write is a synchronous write on the descriptor. A stream would do it later, serialport's even in a thread of a pool
 * that anybody may keep busy; a stop cannot wait for that. Bytes come in by events of the loop, without that pool too.
 */
import { writeSync } from 'node:fs'

export interface ByteLine {
  /** As messages name it: `/dev/ttyACM0`, `127.0.0.1:7001`. */
  readonly place: string
  /** Of the open file: another process inherits it by way of spawn's `stdio`. -1: there is none any more. */
  readonly descriptor: number
  /**
   * Hands bytes to the system, without waiting.
   * @returns how many it took, 0 when its buffer is full; null: the line is lost, and `onLost` is called soon
   */
  write(bytes: Uint8Array, from: number, to: number): number | null
  onBytes(listener: (bytes: Uint8Array) => void): void
  /** Called at most once, never from `write`: hung up, unplugged, reset or closed by the other side. Not after `close`. */
  onLost(listener: (reason: string) => void): void
  close(): void
}

/** @returns how many bytes were taken, 0 when the buffer is full, or the system's word for what is wrong */
export function writeNow(descriptor: number, bytes: Uint8Array, from: number, to: number): number | string {
  try {
    return writeSync(descriptor, bytes, from, to - from)
  } catch (error) {
    const { code } = error as NodeJS.ErrnoException
    // EINTR: a signal came before the first byte; the next try is soon.
    if (code === 'EAGAIN' || code === 'EWOULDBLOCK' || code === 'EINTR') return 0
    return code ?? String(error)
  }
}

/** What both kinds of line share: listeners, and the news of a loss exactly once. */
export class LineEvents {
  readonly #bytes: ((bytes: Uint8Array) => void)[] = []
  readonly #lost: ((reason: string) => void)[] = []
  #state: 'open' | 'losing' | 'ended' = 'open'

  get open(): boolean {
    return this.#state === 'open'
  }

  onBytes(listener: (bytes: Uint8Array) => void): void {
    this.#bytes.push(listener)
  }

  onLost(listener: (reason: string) => void): void {
    this.#lost.push(listener)
  }

  arrive(bytes: Uint8Array): void {
    for (const listener of this.#bytes) if (this.open) listener(bytes)
  }

  /** From inside a write the news waits until that write's caller has returned. */
  lose(reason: string, free: () => void): void {
    if (!this.open) return
    this.#state = 'losing'
    setImmediate(() => {
      if (this.#state !== 'losing') return
      this.#state = 'ended'
      free()
      for (const listener of this.#lost) listener(reason)
    })
  }

  /** @returns false: it was ended before */
  end(): boolean {
    const ended = this.#state === 'ended'
    this.#state = 'ended'
    return !ended
  }
}
