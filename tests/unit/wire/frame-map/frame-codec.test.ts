/** Whole frames of a map: made, looked at with suspicion, and counted. */
import { describe, expect, it } from 'vitest'
import type { ChecksumRule, MapFrame, MapSignal } from '../../../../src/files/rig.js'
import { randomStream } from '../../../../src/random.js'
import { checksum } from '../../../../src/wire/frame-map/checksum.js'
import { FrameCodec, Fresh } from '../../../../src/wire/frame-map/frame-codec.js'

const signal = (
  is: MapSignal['is'],
  byte: number,
  bit: number,
  length: number,
  more: Partial<MapSignal> = {},
) => ({
  ...({ is, name: is, byte, bit, length, order: 'little', signed: false } as const),
  ...{ scale: 1, offset: 0, value: 0, sum: null },
  ...more,
})

const XOR: ChecksumRule = { kind: 'xor', polynomial: 0, start: 0x5a, final: 0 }

const FRAME: MapFrame = {
  base: 0x140,
  step: 16,
  bytes: 6,
  signals: [
    signal('constant', 0, 0, 4, { value: 9 }),
    signal('counter', 0, 4, 4),
    signal('position', 1, 0, 16, { signed: true, scale: -0.01, offset: 0.5 }),
    signal('other', 3, 0, 8, { name: 'lamp' }),
    signal('checksum', 5, 0, 8, { sum: XOR }),
  ],
}

describe('checksums', () => {
  const digits = new TextEncoder().encode('123456789')
  const over = (rule: Partial<ChecksumRule>, data: Uint8Array = digits): number =>
    checksum({ kind: 'crc8', polynomial: 0, start: 0, final: 0, ...rule }, data, -1)

  // Check values of the two CRCs over "123456789" from memory; tests/outside/frame-map.test.ts has a second implementation.
  it.each([
    ['crc8, 07h', { polynomial: 0x07 }, 0xf4],
    ['crc8, 1Dh from FFh to FFh', { polynomial: 0x1d, start: 0xff, final: 0xff }, 0x4b],
    // 49 + 50 + ... + 57 = 477 = 256 + 221.
    ['sum', { kind: 'sum' }, 221],
    ['sum, its complement', { kind: 'sum', final: 0xff }, 34],
    // 1 ^ 2 ^ ... ^ 9 = 1, and 30h nine times leaves one.
    ['xor', { kind: 'xor' }, 0x31],
  ] as const)('%s of the nine digits', (_, rule, expected) => {
    expect(over(rule)).toBe(expected)
  })

  it('leave their own byte out', () => {
    expect(checksum(XOR, Uint8Array.of(1, 0xee, 2), 1)).toBe(0x5a ^ 3)
  })
})

describe('a frame', () => {
  const codec = new FrameCodec(FRAME)

  it('is made with constant, counter, numbers and checksum', () => {
    // -2 = FE FF; 5Ah ^ 39h ^ FEh ^ FFh ^ 07h = 65h.
    const made = codec.make(2, { counter: 3, position: -2 }, { lamp: 7 })
    expect(made).toEqual({
      id: 0x160,
      extended: false,
      remote: false,
      data: Uint8Array.of(0x39, 0xfe, 0xff, 0x07, 0x00, 0x65),
    })
    expect(codec.fits(made.data)).toBe(true)
    expect(codec.number('position', made.data)).toBe(-2)
    expect(codec.quantity('position', made.data)).toBeCloseTo(0.52, 12)
    expect(codec.number('lamp', made.data)).toBe(7)
    expect(codec.number('torque', made.data)).toBeUndefined()
  })

  it.each([
    ['another length', (d: Uint8Array) => d.slice(0, 5)],
    ['another constant', (d: Uint8Array) => changed(changed(d, 0, 0x08), 5, 0x08)],
    ['another checksum', (d: Uint8Array) => changed(d, 5, 0x01)],
    ['a bit that the checksum does not know of', (d: Uint8Array) => changed(d, 4, 0x80)],
  ])('with %s does not fit', (_, spoil) => {
    expect(codec.fits(spoil(codec.make(1, { position: 5 }).data))).toBe(false)
  })

  it('holds a quantity to what its bits can say', () => {
    // n = (q - 0.5) / -0.01
    expect(codec.numberOf('position', 0.48)).toBe(2)
    expect(codec.numberOf('position', 1e9)).toBe(-32768)
    expect(codec.numberOf('position', -1e9)).toBe(32767)
  })

  it('with a counter is fresh when it moves on, whatever it was, and also when it wraps', () => {
    const fresh = new Fresh(codec)
    const seen = [7, 7, 8, 8, 15, 0, 0].map((counter) => fresh.see(codec.make(1, { counter }).data))
    expect(seen).toEqual([true, false, true, false, true, true, false])
  })

  it('without a counter is always fresh', () => {
    const plain = new FrameCodec({ ...FRAME, signals: FRAME.signals.filter((s) => s.is !== 'counter') })
    const fresh = new Fresh(plain)
    expect([1, 2].map(() => fresh.see(plain.make(1, {}).data))).toEqual([true, true])
  })

  it('one flipped bit anywhere is noticed: 2,000 seeded frames', () => {
    const random = randomStream(6, 'frame map frames')
    for (let i = 0; i < 2000; i++) {
      const { data } = codec.make(1, { counter: i, position: Math.floor(random.uniform() * 65536) - 32768 })
      const bit = Math.floor(random.uniform() * 48)
      expect(codec.fits(changed(data, bit >> 3, 1 << (bit & 7)))).toBe(false)
    }
  })
})

function changed(data: Uint8Array, byte: number, mask: number): Uint8Array {
  const copy = data.slice()
  copy[byte] = copy[byte]! ^ mask
  return copy
}
