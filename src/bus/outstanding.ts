/**
 * Frames that the system has taken and that cannot be on the wire yet, reckoned from the rates of the lines: no adapter
 * tells when a frame has left. A floor, not the truth: other nodes' frames go between, and those that wait for them are
 * not seen. It bounds what a stop may have to wait behind.
 */
import type { Nanos } from '../clock.js'
import { frameBits } from '../wire/bits.js'
import type { Frame } from '../wire/frame.js'
import { slcanLength } from '../wire/slcan.js'
import { BITS_A_CHARACTER } from './capacity.js'

export class Outstanding {
  readonly #nsPerBit: number
  readonly #nsPerCharacter: number
  /** When each is done, oldest first, in a ring. */
  readonly #done: Float64Array
  #first = 0
  #count = 0
  /** Of the oldest, how many are not held against the queue any more. */
  #excused = 0
  #serialFree: Nanos = 0
  #busFree: Nanos = 0

  /**
   * @param depth the most that is remembered
   * @param bitrate bit/s of the bus
   * @param serialRate bit/s of the serial line on the way to it, Infinity: there is none
   */
  constructor(depth: number, bitrate: number, serialRate: number) {
    this.#done = new Float64Array(depth)
    this.#nsPerBit = 1e9 / bitrate
    this.#nsPerCharacter = (1e9 * BITS_A_CHARACTER) / serialRate
  }

  /** The system took a frame at `now`. */
  add(frame: Frame, now: Nanos): void {
    this.#serialFree = Math.max(now, this.#serialFree) + slcanLength(frame) * this.#nsPerCharacter
    this.#busFree = Math.max(this.#serialFree, this.#busFree) + frameBits(frame) * this.#nsPerBit
    if (this.#count === this.#done.length) this.#drop()
    this.#done[(this.#first + this.#count) % this.#done.length] = this.#busFree
    this.#count++
  }

  count(now: Nanos): number {
    while (this.#count > 0 && this.#done[this.#first]! <= now) this.#drop()
    return this.#count
  }

  /** Those that are held against the queue. */
  held(now: Nanos): number {
    return this.count(now) - this.#excused
  }

  /** What is under way cannot be taken back; it shall not keep a stop from being handed over behind it. */
  excuse(): void {
    this.#excused = this.#count
  }

  clear(): void {
    this.#count = 0
    this.#excused = 0
  }

  #drop(): void {
    this.#first = (this.#first + 1) % this.#done.length
    this.#count--
    if (this.#excused > 0) this.#excused--
  }
}
