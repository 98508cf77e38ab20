/**
 * Frames as text. The grammar and the four examples are those of the Linux kernel's slcan driver
 * (drivers/net/can/slcan/slcan-core.c, its comments "Examples"), as are those of states and errors.
 */
import { describe, expect, it, test } from 'vitest'
import { randomStream } from '../../../src/random.js'
import { type Frame, frame } from '../../../src/wire/frame.js'
import {
  bitRateWord,
  SlcanReader,
  type SlcanReaderOptions,
  type SlcanUnit,
  slcanCommand,
  slcanLength,
  writeSlcan,
} from '../../../src/wire/slcan.js'
import { statusOf } from '../../../src/wire/slcan-status.js'

const ascii = (text: string): Uint8Array => Uint8Array.from(text, (c) => c.charCodeAt(0))
const textOf = (f: Frame): string => {
  const out = new Uint8Array(40)
  return String.fromCharCode(...out.subarray(3, writeSlcan(f, out, 3)))
}

function unitsOf(
  bytes: Uint8Array,
  pieces: readonly number[] = [],
  options: SlcanReaderOptions = {},
): SlcanUnit[] {
  const reader = new SlcanReader(options)
  const units: SlcanUnit[] = []
  let from = 0
  for (const to of [...pieces, bytes.length]) {
    reader.read(bytes.subarray(from, to), (unit) => units.push(unit))
    from = to
  }
  return units
}

const read = (text: string, options: SlcanReaderOptions = {}): SlcanUnit[] =>
  unitsOf(ascii(text), [], options)
const got = (f: Frame, stamp: number | null = null): SlcanUnit => ({ what: 'frame', frame: f, stamp })
const extended = (id: number, ...data: number[]): Frame => ({
  id,
  extended: true,
  remote: false,
  data: Uint8Array.from(data),
})
const remote = (id: number, size: number, wide = false): Frame => ({
  id,
  extended: wide,
  remote: true,
  data: new Uint8Array(size),
})

const EXAMPLES: [string, Frame][] = [
  ['t1230', frame(0x123, new Uint8Array(0))],
  ['t4563112233', frame(0x456, Uint8Array.of(0x11, 0x22, 0x33))],
  ['T12ABCDEF2AA55', extended(0x12abcdef, 0xaa, 0x55)],
  ['r1230', remote(0x123, 0)],
]
const MORE: [string, Frame][] = [
  ['t0008FFFFFFFFFFFFFFFF', frame(0, new Uint8Array(8).fill(0xff))],
  ['t7FF10F', frame(0x7ff, Uint8Array.of(0x0f))],
  ['T1FFFFFFF80102030405060708', extended(0x1fffffff, 1, 2, 3, 4, 5, 6, 7, 8)],
  ['T000000000', extended(0)],
  ['r7FF8', remote(0x7ff, 8)],
  ['R1FFFFFFF5', remote(0x1fffffff, 5, true)],
]

describe('frames', () => {
  test.each([...EXAMPLES, ...MORE])('%s, both ways', (text, f) => {
    expect(textOf(f)).toBe(`${text}\r`)
    expect(slcanLength(f)).toBe(text.length + 1)
    expect(read(`${text}\r`)).toEqual([got(f)])
  })

  it('ends at a bell as at a carriage return, as the kernel does', () => {
    expect(read('t1230\x07r1230\r')).toEqual([got(frame(0x123, new Uint8Array(0))), got(remote(0x123, 0))])
  })

  it('reads lower-case digits', () => {
    expect(read('t7ff2abcd\rT12abcdef1ef\r')).toEqual([
      got(frame(0x7ff, Uint8Array.of(0xab, 0xcd))),
      got(extended(0x12abcdef, 0xef)),
    ])
  })

  it('comes back from text whatever it holds', () => {
    const random = randomStream(1, 'slcan')
    const whole = (below: number) => Math.floor(random.uniform() * below)
    for (let n = 0; n < 2000; n++) {
      const wide = whole(2) === 1
      const f: Frame = {
        id: whole(wide ? 0x20000000 : 0x800),
        extended: wide,
        remote: whole(4) === 0,
        data: new Uint8Array(whole(9)),
      }
      if (!f.remote)
        f.data.forEach((_, i) => {
          f.data[i] = whole(256)
        })
      expect(read(textOf(f))).toEqual([got(f)])
    }
  })

  test.each([
    ['a length code above 8', 't1239112233445566778899'],
    ['a length code that is no digit', 't123A'],
    ['data missing', 't12321122334'.slice(0, 8)],
    ['half a byte', 't12321'],
    ['data too much', 't123111223'],
    ['a remote frame with data', 'r123111'],
    ['an identifier above 7FF', 't8000'],
    ['an identifier above 1FFFFFFF', 'T200000000'],
    ['a digit that is none', 't12x0'],
    ['a data digit that is none', 't12311g'],
    ['a sign', 't-120'],
    ['a blank', 't 120'],
    ['an identifier cut short', 't12'],
    ['the type alone', 'T'],
    ['a line feed', '\nt1230'],
    ['letters', 'hello'],
    ['bytes above 7F', '\xff\xfe'],
    ['a time stamp that is not awaited', 't1230ABCD'],
  ])('refuses %s', (_, text) => {
    expect(read(`${text}\rt1230\r`).map((u) => u.what)).toEqual(['garbage', 'frame'])
  })

  it('takes time stamps when they are awaited, and frames without', () => {
    const stamps = { stamps: true }
    const f = frame(0x123, Uint8Array.of(0x11))
    expect(read('t123111EA5F\rt123111\rr1230000a\r', stamps)).toEqual([
      got(f, 0xea5f),
      got(f),
      got(remote(0x123, 0), 0x0a),
    ])
    expect(read('t123111EA5\rt123111EA5G\r', stamps).map((u) => u.what)).toEqual(['garbage', 'garbage'])
  })

  it('is bounded: a unit without end is one piece of garbage, and only its beginning is kept', () => {
    const units = unitsOf(ascii(`${'t'.repeat(1_000_000)}\rt1230\r`), [100_000, 100_001])
    expect(units.map((u) => u.what)).toEqual(['garbage', 'frame'])
    expect(units[0]).toEqual({ what: 'garbage', text: `${'t'.repeat(16)}...` })
  })
})

describe('what is no frame', () => {
  it('tells done, refused and words apart', () => {
    expect(read('\r\x07V1013\rF04\rz\rZ\x07S8\r')).toEqual([
      { what: 'done' },
      { what: 'refused' },
      ...['V1013', 'F04', 'z', 'Z', 'S8'].map((text) => ({ what: 'word', text })),
    ])
  })

  it('reads states with their counters, received first', () => {
    expect(read('sb256256\rsa057033\rsp128000\rsw000097\r')).toEqual([
      { what: 'state', state: 'bus-off', receiveErrors: 256, transmitErrors: 256 },
      { what: 'state', state: 'active', receiveErrors: 57, transmitErrors: 33 },
      { what: 'state', state: 'passive', receiveErrors: 128, transmitErrors: 0 },
      { what: 'state', state: 'warning', receiveErrors: 0, transmitErrors: 97 },
    ])
  })

  it('reads errors', () => {
    expect(read('e1a\re3bcO\re2os\re3Bff\r')).toEqual([
      { what: 'errors', errors: ['acknowledgement'] },
      { what: 'errors', errors: ['bit 0', 'checksum', 'transmit overflow'] },
      { what: 'errors', errors: ['receive overflow', 'stuffing'] },
      { what: 'errors', errors: ['bit 1', 'form', 'form'] },
    ])
    expect(read('e2a\re1q\re9aaaaaaaaa\r').map((u) => u.what)).toEqual(['garbage', 'garbage', 'garbage'])
  })

  it('passes over the rest of a line that began before', () => {
    const midway = { midway: true }
    expect(read('33445566\rt1230\r', midway)).toEqual([got(frame(0x123, new Uint8Array(0)))])
    expect(read('\x07\x07', midway)).toEqual([{ what: 'refused' }])
  })
})

describe('the stream', () => {
  const lines = 't1230 T12ABCDEF2AA55 _ F2 garb\xffage r1238 sa057033 e1a t1239 Z t4563112233'
    .replace('_', '')
    .split(' ')
  const stream = ascii(`${lines.join('\r')}\x07\x07t7FF0\r`)
  const whole = unitsOf(stream)

  it('has in it what the other tests here need', () => {
    expect(whole.map((u) => u.what)).toEqual(
      'frame frame done word garbage frame state errors garbage word frame refused frame'.split(' '),
    )
  })

  it('means the same one byte at a time', () => {
    expect(unitsOf(stream, [...stream.keys()])).toEqual(whole)
  })

  it('means the same with every split', () => {
    for (let a = 0; a <= stream.length; a++) {
      for (let b = a; b <= stream.length; b++) expect(unitsOf(stream, [a, b])).toEqual(whole)
    }
  })
})

describe('commands', () => {
  it('says the nine bit rates, and no other', () => {
    const rates = [10e3, 20e3, 50e3, 100e3, 125e3, 250e3, 500e3, 800e3, 1e6]
    expect(rates.map(bitRateWord)).toEqual(['S0', 'S1', 'S2', 'S3', 'S4', 'S5', 'S6', 'S7', 'S8'])
    expect([83_333, 0, 2e6].map(bitRateWord)).toEqual([null, null, null])
  })

  it('ends with a carriage return', () => {
    expect(slcanCommand('S8')).toEqual(ascii('S8\r'))
    expect(slcanCommand('')).toEqual(ascii('\r'))
  })

  it('understands status flags', () => {
    expect(statusOf('F00')).toEqual({ state: 'active', troubles: [] })
    expect(statusOf('F04')).toEqual({ state: 'warning', troubles: [] })
    expect(statusOf('FA4')).toEqual({ state: 'passive', troubles: ['bus error'] })
    expect(statusOf('F4B')).toEqual({
      state: 'active',
      troubles: ['receive overflow', 'transmit overflow', 'arbitration lost'],
    })
    expect(['F', 'F0', 'F000', 'V10', ''].map(statusOf)).toEqual([null, null, null, null, null])
  })
})
