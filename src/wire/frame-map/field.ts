/**
 * One whole number in the bytes of a frame, of any length up to 53 bits (the most that a double holds exactly), at any bit,
 * in either byte order. Laid out once; reading and writing go byte by byte.
 */
import type { BitPlace } from '../../files/rig.js'

/** The part of a number that lies in one byte. */
interface Piece {
  readonly byte: number
  /** Bit of the byte at which it begins. */
  readonly shift: number
  readonly mask: number
  /** What its lowest bit is worth in the number. */
  readonly weight: number
}

export class Field {
  /** Lowest part first. */
  readonly #pieces: readonly Piece[]
  /** 2^length */
  readonly #span: number
  readonly #signed: boolean

  /** @param place inside its frame; the rig's loader has checked that */
  constructor(place: BitPlace) {
    const pieces: Piece[] = []
    const towards = place.order === 'little' ? 1 : -1
    for (let done = 0, { byte, bit } = place; done < place.length; byte += towards, bit = 0) {
      const bits = Math.min(8 - bit, place.length - done)
      pieces.push({ byte, shift: bit, mask: (1 << bits) - 1, weight: 2 ** done })
      done += bits
    }
    this.#pieces = pieces
    this.#span = 2 ** place.length
    this.#signed = place.signed
  }

  /** Least and greatest number that it can hold. */
  get least(): number {
    return this.#signed ? -this.#span / 2 : 0
  }

  get greatest(): number {
    return this.#signed ? this.#span / 2 - 1 : this.#span - 1
  }

  read(data: Uint8Array): number {
    let value = 0
    for (const { byte, shift, mask, weight } of this.#pieces)
      value += ((data[byte]! >> shift) & mask) * weight
    return this.#signed && value >= this.#span / 2 ? value - this.#span : value
  }

  /** Writes a whole number modulo 2^length, as a register of that length would take it; leaves all other bits alone. */
  write(data: Uint8Array, value: number): void {
    const raw = value - Math.floor(value / this.#span) * this.#span
    for (const { byte, shift, mask, weight } of this.#pieces) {
      const part = Math.floor(raw / weight) & mask
      data[byte] = (data[byte]! & ~(mask << shift)) | (part << shift)
    }
  }
}
