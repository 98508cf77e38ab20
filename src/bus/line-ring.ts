/** Lines that the system would not take yet, in a ring of fixed size: nothing is allocated once it is made. */
import type { ByteLine } from './byte-line.js'

export class LineRing {
  readonly #slot: number
  readonly #lengths: Uint8Array
  readonly #bytes: Uint8Array
  #first = 0
  #count = 0
  /** Bytes of the first line that the system has. */
  #begun = 0

  /** @param slot bytes of the longest line, at most 255 */
  constructor(lines: number, slot: number) {
    this.#slot = slot
    this.#lengths = new Uint8Array(lines)
    this.#bytes = new Uint8Array(lines * slot)
  }

  /** Lines, the one that has begun included. */
  get length(): number {
    return this.#count
  }

  /**
   * @param line its first `length` bytes
   * @param begun bytes that the system has; only of a line that comes into an empty ring
   * @returns false: the ring is full
   */
  put(line: Uint8Array, length: number, begun = 0): boolean {
    if (this.#count === this.#lengths.length) return false
    const place = this.#place(this.#count)
    this.#bytes.set(line.subarray(0, length), place * this.#slot)
    this.#lengths[place] = length
    if (this.#count === 0) this.#begun = begun
    this.#count++
    return true
  }

  /**
   * Hands over as much as the line takes.
   * @param onLine called for each line that is through
   * @returns bytes taken; null: the line is lost
   */
  flush(line: Pick<ByteLine, 'write'>, onLine: () => void): number | null {
    let total = 0
    while (this.#count > 0) {
      const start = this.#first * this.#slot
      const end = start + this.#lengths[this.#first]!
      const taken = line.write(this.#bytes, start + this.#begun, end)
      if (taken === null) return null
      total += taken
      this.#begun += taken
      if (start + this.#begun < end) break
      this.#begun = 0
      this.#first = this.#place(1)
      this.#count--
      onLine()
    }
    return total
  }

  /** Takes back the lines of which the system has nothing. @returns how many */
  withdraw(): number {
    const stays = this.#begun > 0 ? 1 : 0
    const taken = this.#count - stays
    this.#count = stays
    return taken
  }

  clear(): void {
    this.#count = 0
    this.#begun = 0
  }

  #place(behind: number): number {
    return (this.#first + behind) % this.#lengths.length
  }
}
