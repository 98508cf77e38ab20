/** Lines between bench process, guardian and `drystroke stop`, cut anywhere. */
import { describe, expect, it } from 'vitest'
import { BEAT, LineReader, lineOf } from '../../../../src/stop/guardian/messages.js'

const failed = { what: 'failed', says: 'kein Zugriff auf „Backbord“ \u{1f6a3}' } as const
const text = `\n${lineOf(failed)}\n\n${lineOf({ what: 'stop' })}`

function linesOf(...pieces: Uint8Array[]): string[] {
  const reader = new LineReader()
  const lines: string[] = []
  for (const piece of pieces) reader.read(piece, (line) => lines.push(line))
  return lines
}

describe('a line', () => {
  it('is plain ASCII, and says the same when it is read', () => {
    expect(lineOf(failed)).toMatch(/^[\x20-\x7e]+\n$/)
    expect(JSON.parse(lineOf(failed))).toEqual(failed)
  })

  it.each([1, 2, 3, 7, 1000])('comes whole from pieces of %s bytes, beats between them', (size) => {
    const bytes = Buffer.from(text)
    const pieces: Uint8Array[] = []
    for (let at = 0; at < bytes.length; at += size) pieces.push(bytes.subarray(at, at + size))
    const lines = linesOf(...pieces)
    expect(lines.map((l) => (l === '' ? 'beat' : JSON.parse(l).what))).toEqual([
      'beat',
      'failed',
      'beat',
      'beat',
      'stop',
    ])
    expect(JSON.parse(lines[1]!)).toEqual(failed)
  })

  it('a beat is one byte', () => {
    expect(linesOf(BEAT, BEAT)).toEqual(['', ''])
  })

  it('of which no end comes is not kept for ever', () => {
    const reader = new LineReader()
    const piece = new Uint8Array(1 << 20).fill(0x61)
    expect(() => {
      for (let i = 0; i < 10; i++) reader.read(piece, () => {})
    }).toThrow('a line of more than')
  })
})
