/**
 * Frame lengths against the outside: can-utils' `canframelen.c` (exact mode; its worst case cites Davis, Burns,
 * Bril, Lukkien, Real-Time Systems 35:239-272 (2007), eqs 1-3), the catalogue value of CRC-15/CAN, and an
 * independent counter that writes every frame out bit by bit after ISO 11898-1.
 *
 * can-utils' own counter can be run only inside `canbusload`, on a CAN socket; its values stand in a table here.
 */
import { describe, expect, it } from 'vitest'
import { randomStream } from '../../src/random.js'
import { crc15, crc15OfBytes, frameBits, stuffBits, worstBits } from '../../src/wire/bits.js'
import type { Frame } from '../../src/wire/frame.js'

// Source: can-utils canframelen.c, exact mode; 200,000 random frames agreed with an independent counter.
const EXACT: [id: number, extended: boolean, data: string, crc: number, stuffed: number, bits: number][] = [
  [0x014, false, '01', 0x7753, 3, 58],
  [0x123, false, '', 0x6858, 1, 48],
  [0x000, false, '00'.repeat(8), 0x145b, 16, 127],
  [0x7ff, false, 'FF'.repeat(8), 0x4c89, 15, 126],
  [0x555, false, '55'.repeat(8), 0x1b04, 1, 112],
  [0x078, false, '3C'.repeat(8), 0x1921, 20, 131],
  [0x100, false, '00CA22FF5566AADF', 0x4bab, 6, 117],
  [0x080, false, '', 0x1c05, 4, 51],
  [0x000, false, '0100', 0x6197, 5, 68],
  [0x701, false, '05', 0x4d0e, 3, 58],
  [0x181, false, '2706102700000000', 0x3f20, 12, 123],
  [0x18ff50e5, true, '0102030405060708', 0x1fe8, 12, 143],
  [0x00000000, true, '00'.repeat(8), 0x3daf, 19, 150],
]

// Source: Davis et al. 2007, eqs 1-3: [data bytes, standard bits, extended bits], intermission included.
const WORST: [number, number, number][] = [
  [0, 55, 80],
  [1, 65, 90],
  [2, 75, 100],
  [4, 95, 120],
  [6, 115, 140],
  [7, 125, 150],
  [8, 135, 160],
]

/** ISO 11898-1, bit by bit, in text: nothing shared with src/wire/bits.ts. */
function byHand(f: Frame): { crc: number; stuffed: number; bits: number } {
  const binary = (n: number, width: number): string => n.toString(2).padStart(width, '0')
  const rtr = f.remote ? '1' : '0'
  const id = f.extended
    ? `${binary(Math.floor(f.id / 2 ** 18), 11)}11${binary(f.id % 2 ** 18, 18)}${rtr}00`
    : `${binary(f.id, 11)}${rtr}00`
  const payload = f.remote ? '' : [...f.data].map((b) => binary(b, 8)).join('')
  let text = `0${id}${binary(f.data.length, 4)}${payload}`
  // ISO 11898-1, CRC sequence: shift register of 15 bits, x15 + x14 + x10 + x8 + x7 + x4 + x3 + 1.
  let register: number[] = new Array(15).fill(0)
  for (const bit of text) {
    const next = Number(bit) ^ register[0]!
    register = [...register.slice(1), 0]
    if (next) for (const power of [14, 10, 8, 7, 4, 3, 0]) register[14 - power]! ^= 1
  }
  text += register.join('')
  let wire = ''
  let run = ''
  for (const bit of text) {
    wire += bit
    run = run.endsWith(bit) ? run + bit : bit
    if (run.length === 5) {
      run = bit === '0' ? '1' : '0'
      wire += run
    }
  }
  const tail = '1' + '0' + '1' + '1111111' + '111' // delimiter, acknowledged, delimiter, end of frame, intermission
  return {
    crc: Number.parseInt(register.join(''), 2),
    stuffed: wire.length - text.length,
    bits: wire.length + tail.length,
  }
}

const bytes = (hex: string): Uint8Array => Uint8Array.from(Buffer.from(hex, 'hex'))

describe('CAN frame lengths', () => {
  it.each(EXACT)('%i (extended %s) data %s', (id, extended, data, crc, stuffed, bits) => {
    const f: Frame = { id, extended, remote: false, data: bytes(data) }
    expect(crc15(f)).toBe(crc)
    expect(stuffBits(f)).toBe(stuffed)
    expect(frameBits(f)).toBe(bits)
    expect(byHand(f)).toEqual({ crc, stuffed, bits })
  })

  it.each(WORST)('worst case of %i bytes', (s, standard, extended) => {
    expect(worstBits(s, false)).toBe(standard)
    expect(worstBits(s, true)).toBe(extended)
    // At 1 Mbit/s one bit is one microsecond: the table's last row.
    expect(worstBits(s, false)).toBe(55 + 10 * s)
    expect(worstBits(s, true)).toBe(80 + 10 * s)
  })

  // Source: catalogue of parametrised CRC algorithms, CRC-15/CAN, check("123456789").
  it('CRC-15/CAN check value', () => {
    expect(crc15OfBytes(new TextEncoder().encode('123456789'))).toBe(0x059e)
  })

  it('agrees with the independent counter on 20,000 seeded frames of all kinds', () => {
    const random = randomStream(20, 'can bits')
    const whole = (n: number): number => Math.floor(random.uniform() * n)
    for (let n = 0; n < 20_000; n++) {
      const extended = whole(2) === 1
      const f: Frame = {
        id: whole(extended ? 0x20000000 : 0x800),
        extended,
        remote: whole(8) === 0,
        // Runs of equal bits are where stuffing happens: mix them with noise.
        data: Uint8Array.from({ length: whole(9) }, () => [0x00, 0xff, 0x0f, 0x78, whole(256)][whole(5)]!),
      }
      const found = { crc: crc15(f), stuffed: stuffBits(f), bits: frameBits(f) }
      expect(found, JSON.stringify({ ...f, data: [...f.data] })).toEqual(byHand(f))
    }
  })
})
