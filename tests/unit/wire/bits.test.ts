import { describe, expect, it } from 'vitest'
import { randomStream } from '../../../src/random.js'
import { arbitrationField, frameBits, stuffBits, worstBits } from '../../../src/wire/bits.js'
import { type Frame, frame } from '../../../src/wire/frame.js'

const random = randomStream(11, 'bits')
const whole = (n: number): number => Math.floor(random.uniform() * n)

function anyFrame(): Frame {
  const extended = whole(2) === 1
  return {
    id: whole(extended ? 0x20000000 : 0x800),
    extended,
    remote: whole(8) === 0,
    data: Uint8Array.from({ length: whole(9) }, () => [0x00, 0xff, whole(256)][whole(3)]!),
  }
}

describe('frame length', () => {
  it('stays between the unstuffed and the worst-case length', () => {
    for (let n = 0; n < 20_000; n++) {
      const f = anyFrame()
      const bytes = f.remote ? 0 : f.data.length
      const least = (f.extended ? 67 : 47) + 8 * bytes
      expect(frameBits(f)).toBe(least + stuffBits(f))
      expect(frameBits(f)).toBeLessThanOrEqual(worstBits(bytes, f.extended))
    }
  })

  it('counts the length code of a remote frame, and none of its bytes', () => {
    const asked = (n: number, fill: number): Frame => ({
      id: 0x123,
      extended: false,
      remote: true,
      data: new Uint8Array(n).fill(fill),
    })
    expect(frameBits(asked(8, 0))).toBe(frameBits(asked(8, 0xa5)))
    expect(frameBits(asked(8, 0))).toBeLessThan(worstBits(1, false))
    // Another length code is another frame: not all have the same stuff bits.
    expect(new Set([0, 1, 2, 3, 4, 5, 6, 7, 8].map((n) => frameBits(asked(n, 0)))).size).toBeGreaterThan(1)
  })
})

describe('arbitration field', () => {
  it('orders as the bits on the wire do', () => {
    // A second route: the field written out bit by bit; text order is the order of arbitration.
    const text = (f: Frame): string => {
      const id = (n: number, bits: number): string => n.toString(2).padStart(bits, '0')
      const rtr = f.remote ? '1' : '0'
      return f.extended ? `${id(f.id >>> 18, 11)}11${id(f.id & 0x3ffff, 18)}${rtr}` : `${id(f.id, 11)}${rtr}0`
    }
    for (let n = 0; n < 20_000; n++) {
      const a = anyFrame()
      // Any other frame; the same as a remote frame; the same base identifier in the other format.
      const other = { ...a, id: a.extended ? a.id >>> 18 : a.id << 18, extended: !a.extended }
      const b = [anyFrame(), { ...a, remote: !a.remote }, other][n % 3]!
      const expected = text(a) < text(b) ? -1 : text(a) > text(b) ? 1 : 0
      expect(Math.sign(arbitrationField(a) - arbitrationField(b))).toBe(expected)
    }
  })

  it('is never negative', () => {
    expect(arbitrationField({ id: 0x1fffffff, extended: true, remote: true, data: new Uint8Array(0) })).toBe(
      0xffffffff,
    )
    expect(arbitrationField(frame(0x7ff, new Uint8Array(0)))).toBe(0xffe00000)
  })
})
