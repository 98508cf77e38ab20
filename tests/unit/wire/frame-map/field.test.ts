/** Numbers in the bits of a frame: worked by hand, at every length and place, and by a second route bit by bit. */
import { describe, expect, it } from 'vitest'
import { bitsOf } from '../../../../src/files/frame-map.js'
import type { BitPlace } from '../../../../src/files/rig.js'
import { randomStream } from '../../../../src/random.js'
import { Field } from '../../../../src/wire/frame-map/field.js'

const place = (
  byte: number,
  bit: number,
  length: number,
  order: 'little' | 'big' = 'little',
  signed = false,
): BitPlace => ({ byte, bit, length, order, signed })

const hex = (text: string): Uint8Array => Uint8Array.from(text.split(' '), (b) => Number.parseInt(b, 16))

describe('by hand', () => {
  it.each([
    // Whole bytes: 12 34 read from its lower and from its upper end.
    ['12 34 56 78', place(0, 0, 8), 0x12],
    ['12 34 56 78', place(0, 0, 16), 0x3412],
    ['12 34 56 78', place(1, 0, 16, 'big'), 0x1234],
    ['12 34 56 78', place(0, 0, 32), 0x78563412],
    ['12 34 56 78', place(3, 0, 32, 'big'), 0x12345678],
    ['12 34 56 78 9a', place(3, 0, 24, 'big'), 0x345678],
    // From the upper half of byte 0: its 1, then all of byte 1.
    ['12 34 56 78', place(0, 4, 12), 0x341],
    // From the upper half of byte 1: its 3, then all of byte 0.
    ['12 34 56 78', place(1, 4, 12, 'big'), 0x123],
    // 56h = 01010 110b: bits 3 to 7 are 01010b; 78h = 011110 00b: two bits 00b above them.
    ['12 34 56 78', place(2, 3, 7), 0b0001010],
    // 78h = 01111 000b: bits 3 to 7 are 01111b; 56h = 010101 10b: two bits 10b above them.
    ['12 34 56 78', place(3, 3, 7, 'big'), 0b1001111],
    ['12 34 56 78', place(3, 3, 7, 'big', true), 0b1001111 - 128],
    // Inside one byte both orders are one.
    ['b4', place(0, 2, 3), 0b101],
    ['b4', place(0, 2, 3, 'big'), 0b101],
    ['b4', place(0, 2, 3, 'little', true), -3],
    ['f8 ff', place(0, 0, 16, 'little', true), -8],
    ['f8 ff', place(1, 0, 16, 'big', true), -1793], // F8FFh - 10000h
    ['00 00 80', place(0, 0, 24, 'little', true), -(2 ** 23)],
    ['80 00 00', place(2, 0, 24, 'big', true), -(2 ** 23)],
    ['ff ff ff ff ff ff ff', place(0, 0, 53), 2 ** 53 - 1],
    ['ff ff ff ff ff ff ff', place(6, 0, 53, 'big', true), -1],
    // 20 bits from the upper half of byte 3, big: 7h of byte 3, 56h, 34h.
    ['12 34 56 78', place(3, 4, 20, 'big'), 0x34567],
  ] as const)('%s, %o', (data, where, expected) => {
    const field = new Field(where)
    expect(field.read(hex(data))).toBe(expected)
    // The same number written over ones, then over zeros, leaves exactly these bits.
    for (const filling of [0x00, 0xff]) {
      const written = new Uint8Array(hex(data).length).fill(filling)
      field.write(written, expected)
      const kept = hex(data)
      const mine = new Set(bitsOf(where))
      for (let b = 0; b < 8 * kept.length; b++) {
        const bit = mine.has(b) ? (kept[b >> 3]! >> (b & 7)) & 1 : filling & 1
        expect((written[b >> 3]! >> (b & 7)) & 1, `bit ${b}`).toBe(bit)
      }
    }
  })

  it('a number that does not fit is taken modulo 2^length, as a register would', () => {
    const data = new Uint8Array(2)
    new Field(place(0, 2, 6)).write(data, 64 + 5)
    expect([...data]).toEqual([5 << 2, 0])
    new Field(place(0, 2, 6)).write(data, -1)
    expect([...data]).toEqual([0xfc, 0])
  })
})

describe.each(['little', 'big'] as const)('sign extension, %s', (order) => {
  it.each(Array.from({ length: 53 }, (_, i) => i + 1))('at %i bits', (length) => {
    for (let bit = 0; bit < 8; bit++) {
      if (bit + length > 64) continue
      const where = place(order === 'little' ? 0 : 7, bit, length, order, true)
      const field = new Field(where)
      const [least, greatest] = [-(2 ** (length - 1)), 2 ** (length - 1) - 1]
      expect([field.least, field.greatest]).toEqual([least, greatest])
      for (const value of [least, greatest, -1, 0, Math.trunc(least / 3) + 0]) {
        const data = new Uint8Array(8).fill(0xaa)
        field.write(data, value)
        expect(field.read(data), `${value} at bit ${bit}`).toBe(value + 0)
        // Without a sign the same bits are the number modulo 2^length.
        const raw = new Field({ ...where, signed: false }).read(data)
        expect(raw).toBe(value < 0 ? value + 2 ** length : value)
      }
    }
  })
})

describe('20,000 seeded places and numbers', () => {
  const random = randomStream(5, 'frame map fields')
  const whole = (n: number): number => Math.floor(random.uniform() * n)

  it('come back as they were written, touch no other bit, and are what a walk over the bits gives', () => {
    for (let i = 0; i < 20_000; i++) {
      const order = whole(2) === 0 ? 'little' : 'big'
      const bit = whole(8)
      const length = 1 + whole(Math.min(53, 64 - bit))
      const bytes = Math.ceil((bit + length) / 8)
      const first = whole(9 - bytes)
      const signed = whole(2) === 0
      const where = place(order === 'little' ? first : first + bytes - 1, bit, length, order, signed)
      const field = new Field(where)
      const value = field.least + Math.floor(random.uniform() * (field.greatest - field.least + 1))
      const before = Uint8Array.from({ length: 8 }, () => whole(256))
      const data = before.slice()
      field.write(data, value)
      const bits = bitsOf(where)
      const walked = bits.reduce((sum, b, k) => sum + (((data[b >> 3]! >> (b & 7)) & 1) << 0) * 2 ** k, 0)
      const expected = value < 0 ? value + 2 ** length : value
      if (field.read(data) !== value || walked !== expected)
        expect({ where, value, data: [...data] }).toBe('the same')
      const mine = new Set(bits)
      for (let b = 0; b < 64; b++) {
        if (!mine.has(b) && ((data[b >> 3]! ^ before[b >> 3]!) >> (b & 7)) & 1)
          expect({ where, bit: b }).toBe('untouched')
      }
    }
  })
})
