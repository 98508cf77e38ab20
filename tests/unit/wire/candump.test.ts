import { describe, expect, it } from 'vitest'
import { DrystrokeError } from '../../../src/errors.js'
import { randomStream } from '../../../src/random.js'
import { candumpLine, readCandump, readCandumpLine } from '../../../src/wire/candump.js'
import { type Frame, frame } from '../../../src/wire/frame.js'

describe('writing', () => {
  const hello = frame(0x123, Uint8Array.of(0x0a, 0xff))

  it.each<[string, string]>([
    [candumpLine(12_345_678_000, 'can0', hello), '(0000000012.345678) can0 123#0AFF'],
    [candumpLine(0, 'can0', frame(7, new Uint8Array(0))), '(0000000000.000000) can0 007#'],
    [candumpLine(1999, 'can0', hello), '(0000000000.000001) can0 123#0AFF'],
    [candumpLine(999_999_999, 'can0', hello), '(0000000000.999999) can0 123#0AFF'],
    [candumpLine(5000, 'can0', hello, 1_436_509_052), '(1436509052.000005) can0 123#0AFF'],
    [candumpLine(0, 'can0', { ...hello, extended: true }), '(0000000000.000000) can0 00000123#0AFF'],
    [candumpLine(0, 'can0', { ...hello, remote: true }), '(0000000000.000000) can0 123#R2'],
    [candumpLine(0, 'c', { ...frame(1, new Uint8Array(0)), remote: true }), '(0000000000.000000) c 001#R'],
  ])('%s', (found, expected) => {
    expect(found).toBe(expected)
  })
})

describe('reading', () => {
  it('reads lines of every kind, in either case of digit, with any line end', () => {
    const text = [
      '(12.345678) can0 123#0aFF',
      '',
      '(0000000013.000001) port-can 1ABCDEF0#\r',
      '(14.000000) can0 123#R',
      '(14.000000) can0 123#R8 R',
      '(15.000000) can0 7FF#00 T',
      '(16.000000) can0 20000044#0004000000000000',
    ].join('\n')
    const record = (t: number, bus: string, f: Partial<Frame>, sent = false) => ({
      what: 'frame',
      t,
      bus,
      sent,
      frame: { id: 0x123, extended: false, remote: false, data: new Uint8Array(0), ...f },
    })
    expect(readCandump(text)).toEqual([
      record(12_345_678_000, 'can0', { data: Uint8Array.of(0x0a, 0xff) }),
      record(13_000_001_000, 'port-can', { id: 0x1abcdef0, extended: true }),
      record(14e9, 'can0', { remote: true }),
      record(14e9, 'can0', { remote: true, data: new Uint8Array(8) }),
      record(15e9, 'can0', { id: 0x7ff, data: Uint8Array.of(0) }, true),
      { what: 'error', t: 16e9, bus: 'can0', errorClass: 0x44, data: Uint8Array.of(0, 4, 0, 0, 0, 0, 0, 0) },
    ])
    expect(readCandump('')).toEqual([])
  })

  it('counts wall-clock times from the second of the first frame, exactly', () => {
    const text = '(1436509052.249713) can0 123#\n(1436509053.000001) can0 123#\n'
    expect(readCandump(text, { origin: 'first frame' }).map((r) => r.t)).toEqual([249_713_000, 1_000_001_000])
    expect(readCandump(text, { origin: 1_436_509_050 }).map((r) => r.t)).toEqual([
      2_249_713_000, 3_000_001_000,
    ])
    expect(() => readCandump(text)).toThrow(/log:1: .*first frame/)
  })

  it.each([
    ['hello', /such as/],
    ['(1.000000) can0', /such as/],
    ['(1.000000) can0 123# R 4', /such as/],
    ['(1.000000) can0 123# X', /R \(received\)/],
    ['1.000000 can0 123#', /in brackets/],
    ['(1.0) can0 123#', /six decimals/],
    ['(-1.000000) can0 123#', /seconds/],
    ['(1.000000) can0 123', /identifier#data/],
    ['(1.000000) can0 12G#', /identifier#data/],
    ['(1.000000) can0 #00', /identifier#data/],
    ['(1.000000) can0 123##100', /CAN FD.*classical/],
    ['(1.000000) can0 123#0', /data "0"/],
    ['(1.000000) can0 123#0G', /data "0G"/],
    ['(1.000000) can0 123#001122334455667788', /up to 8 bytes/],
    ['(1.000000) can0 123#R9', /length up to 8/],
    ['(1.000000) can0 800#', /at most 7FF/],
    ['(1.000000) can0 0123#', /three digits/],
    ['(1.000000) can0 012345678#', /three digits/],
    ['(1.000000) can0 40000000#', /at most 1FFFFFFF/],
    ['(1.000000) can0 FFFFFFFF#', /at most 1FFFFFFF/],
    ['(1.000000) can0 20000004#R', /at most 1FFFFFFF/],
  ])('refuses %s, naming file and line', (line, message) => {
    const good = '(1.000000) can0 123#00\n'
    let error: unknown
    try {
      readCandump(`${good}${good}${line}\n${good}`, { file: 'trip.log' })
    } catch (e) {
      error = e
    }
    expect(error).toBeInstanceOf(DrystrokeError)
    const { code, message: found, context } = error as DrystrokeError
    expect(code).toBe('file-invalid')
    expect(context).toEqual({ file: 'trip.log', line: 3 })
    expect(found).toMatch(/^trip\.log:3: found .*; expected /)
    expect(found).toMatch(message)
  })

  it('gives back what was written, fixed seed', () => {
    const random = randomStream(3, 'candump')
    const whole = (n: number): number => Math.floor(random.uniform() * n)
    for (let n = 0; n < 5000; n++) {
      const extended = whole(2) === 1
      const remote = whole(5) === 0
      const data = Uint8Array.from({ length: whole(9) }, () => (remote ? 0 : whole(256)))
      const f: Frame = { id: whole(extended ? 2 ** 29 : 2048), extended, remote, data }
      const t = whole(2 ** 32) * 100_000 + whole(100_000)
      const back = readCandumpLine(candumpLine(t, 'port-can', f), 1)
      expect(back).toEqual({ what: 'frame', t: t - (t % 1000), bus: 'port-can', sent: false, frame: f })
    }
  })
})
