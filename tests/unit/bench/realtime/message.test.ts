/** What bench process and parent say to each other: the same messages, in whatever pieces the bytes come. */
import { expect, test } from 'vitest'
import {
  encodeMessage,
  encodeRecords,
  type Message,
  MessageReader,
  type Report,
} from '../../../../src/bench/realtime/message.js'

const bytes = (...given: number[]): Uint8Array => Uint8Array.from(given)

const SENT: readonly Message<Report>[] = [
  { kind: 'ready' },
  { kind: 'records', frames: bytes(1, 2, 3), events: bytes(4) },
  { kind: 'records', frames: bytes(), events: bytes(5, 6) },
  { kind: 'records', frames: bytes(), events: bytes() },
  { kind: 'progress', scenarioTime: 1.5, stage: 'play' },
  { kind: 'ended', problem: { code: null, message: 'ein Fehler: ü', context: { joint: 'port.roll' } } },
]
const STREAM = Buffer.concat(
  SENT.map((m) => (m.kind === 'records' ? encodeRecords(m.frames, m.events) : encodeMessage(m))),
)

function read(pieces: readonly Uint8Array[]): Message<Report>[] {
  const got: Message<Report>[] = []
  const reader = new MessageReader<Report>((m) =>
    // Bytes are the reader's only until it goes on.
    got.push(m.kind === 'records' ? { ...m, frames: bytes(...m.frames), events: bytes(...m.events) } : m),
  )
  for (const piece of pieces) reader.take(piece)
  return got
}

test('whole, and one byte at a time', () => {
  expect(read([STREAM])).toEqual(SENT)
  expect(read([...STREAM].map((b) => bytes(b)))).toEqual(SENT)
})

test('cut in two at every place, and in three at every pair of places', () => {
  for (let i = 0; i <= STREAM.length; i++) {
    expect(read([STREAM.subarray(0, i), STREAM.subarray(i)])).toEqual(SENT)
  }
  const short = Buffer.concat([encodeMessage({ kind: 'ready' }), encodeRecords(bytes(1, 2, 3), bytes(4))])
  for (let i = 0; i <= short.length; i++)
    for (let j = i; j <= short.length; j++)
      expect(read([short.subarray(0, i), short.subarray(i, j), short.subarray(j)])).toEqual(SENT.slice(0, 2))
})

test('a message that has not come whole is not given', () => {
  expect(read([STREAM.subarray(0, STREAM.length - 1)])).toEqual(SENT.slice(0, -1))
})

test.each([
  ['a kind that is none', bytes(9, 2, 0, 0, 0, 0x7b, 0x7d)],
  ['a length that nobody sends', bytes(1, 0xff, 0xff, 0xff, 0xff)],
  ['records without room for their own head', bytes(2, 2, 0, 0, 0, 0, 0)],
  ['records longer than their message', bytes(2, 4, 0, 0, 0, 9, 0, 0, 0)],
])('%s is refused', (_, given) => {
  expect(() => read([given])).toThrow(expect.objectContaining({ code: 'defect' }))
})
