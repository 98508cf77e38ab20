import { expect, test } from 'vitest'
import { Lines } from '../../../../src/driver/link/lines.js'

const TEXT = 'one\ntwö\r\n\n  {"n":1}  \nthe rest'
const CUT = ['one', 'twö', '', '  {"n":1}  ']

function taken(pieces: readonly Uint8Array[], longest = 20): { lines: string[]; tooLong: string[] } {
  const [lines, tooLong]: [string[], string[]] = [[], []]
  const cutter = new Lines(
    longest,
    (line) => lines.push(line),
    (line) => tooLong.push(line),
  )
  for (const piece of pieces) cutter.take(piece)
  return { lines, tooLong }
}

test('one byte at a time, and with every split', () => {
  const bytes = new TextEncoder().encode(TEXT)
  expect(taken([...bytes].map((b) => Uint8Array.of(b))).lines).toEqual(CUT)
  for (let i = 0; i <= bytes.length; i++) {
    for (let k = i; k <= bytes.length; k++)
      expect(taken([bytes.subarray(0, i), bytes.subarray(i, k), bytes.subarray(k)])).toEqual({
        lines: CUT,
        tooLong: [],
      })
  }
})

test('a line too long is told once, ended or not, and nothing comes after it', () => {
  const bytes = new TextEncoder().encode(`fine\n${'x'.repeat(21)}\nnever\n`)
  const whole = { lines: ['fine'], tooLong: ['x'.repeat(21)] }
  expect(taken([bytes])).toEqual(whole)
  expect(taken([...bytes].map((b) => Uint8Array.of(b)))).toEqual(whole)
  expect(taken([new TextEncoder().encode('y'.repeat(500))]).tooLong).toEqual(['y'.repeat(80)])
})

test('stopped in the middle of what was taken, it stops there', () => {
  const lines: string[] = []
  const cutter: Lines = new Lines(
    20,
    (line) => {
      lines.push(line)
      if (line === 'b') cutter.stop()
    },
    () => {},
  )
  cutter.take(new TextEncoder().encode('a\nb\nc\nd\n'))
  cutter.take(new TextEncoder().encode('e\n'))
  expect(lines).toEqual(['a', 'b'])
})
