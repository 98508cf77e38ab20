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

/** A line that is an open file of this process. What tells of bytes and of a loss is its kind's. */
export abstract class DescriptorLine implements ByteLine {
  readonly place: string
  readonly #bytes: ((bytes: Uint8Array) => void)[] = []
  readonly #lost: ((reason: string) => void)[] = []
  #state: 'open' | 'losing' | 'ended' = 'open'
  #descriptor: number

  protected constructor(descriptor: number, place: string) {
    this.#descriptor = descriptor
    this.place = place
  }

  get descriptor(): number {
    return this.#descriptor
  }

  write(bytes: Uint8Array, from: number, to: number): number | null {
    if (!this.open) return null
    try {
      return writeSync(this.#descriptor, bytes, from, to - from)
    } catch (error) {
      const { code } = error as NodeJS.ErrnoException
      if (isForNow(code)) return 0
      this.lose(this.lossBy(code ?? String(error)))
      return null
    }
  }

  onBytes(listener: (bytes: Uint8Array) => void): void {
    this.#bytes.push(listener)
  }

  onLost(listener: (reason: string) => void): void {
    this.#lost.push(listener)
  }

  close(): void {
    const ended = this.#state === 'ended'
    this.#state = 'ended'
    if (!ended) this.#free()
  }

  protected get open(): boolean {
    return this.#state === 'open'
  }

  protected arrive(bytes: Uint8Array): void {
    for (const listener of this.#bytes) if (this.open) listener(bytes)
  }

  /** From inside a write the news waits until that write's caller has returned. */
  protected lose(reason: string): void {
    if (!this.open) return
    this.#state = 'losing'
    setImmediate(() => {
      if (this.#state !== 'losing') return
      this.#state = 'ended'
      this.#free()
      for (const listener of this.#lost) listener(reason)
    })
  }

  /** What is told of a loss that the system has this word for. */
  protected abstract lossBy(code: string): string

  /** Nothing is read any more, and the file is closed. */
  protected abstract release(descriptor: number): void

  #free(): void {
    const descriptor = this.#descriptor
    // The number may soon be another file's.
    this.#descriptor = -1
    this.release(descriptor)
  }
}

/** The system's words for a read or a write that is worth another try. EINTR: a signal came before the first byte. */
export function isForNow(code: string | undefined): boolean {
  return code === 'EAGAIN' || code === 'EWOULDBLOCK' || code === 'EINTR'
}
