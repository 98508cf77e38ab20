/** Records on their way: what is acknowledged, what is dropped, and what is written when whoever wrote is gone. */
import { appendFileSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterEach, beforeEach, expect, test } from 'vitest'
import { type Message, MessageReader, type Report } from '../../../../src/bench/realtime/message.js'
import { RecordStream } from '../../../../src/bench/realtime/record-stream.js'
import type { BenchEvent } from '../../../../src/files/event.js'
import { EventReader } from '../../../../src/record/event-reader.js'
import { PcapngReader } from '../../../../src/record/pcapng-reader.js'

const BUSES = [{ name: 'can', bitrate: 1e6 }]
const FRAME = { id: 0x181, extended: false, remote: false, data: Uint8Array.of(1, 2, 3) }
const tick = (k: number): BenchEvent => ({ kind: 'tick', t: k, k, late: 0, setpoints: null, witness: null })
const stage = (t: number): BenchEvent => ({ kind: 'stage', t, stage: 'play' })

let folder: string
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'records-'))
})
afterEach(() => rmSync(folder, { recursive: true, force: true }))

/** A writer that writes when it is told to. */
function setUp(bound = Infinity) {
  const written = { frames: 0, events: 0 }
  const held: Extract<Message<Report>, { kind: 'records' }>[] = []
  const reader = new MessageReader<Report>((m) => {
    if (m.kind === 'records') held.push(m)
  })
  for (const name of ['frames.pcapng', 'events.jsonl']) writeFileSync(join(folder, name), '')
  const stream = new RecordStream(BUSES, (bytes) => reader.take(bytes), bound)
  const write = (count = held.length): void => {
    for (const { frames, events } of held.splice(0, count)) {
      appendFileSync(join(folder, 'frames.pcapng'), frames)
      appendFileSync(join(folder, 'events.jsonl'), events)
      written.frames += frames.length
      written.events += events.length
    }
  }
  return { stream, write, written, tell: () => stream.written({ ...written }) }
}

function recorded(): { events: BenchEvent[]; after: number[]; frames: number } {
  const events = new EventReader(join(folder, 'events.jsonl'))
  const found: BenchEvent[] = []
  const after: number[] = []
  while (events.next()) {
    found.push(events.event!)
    after.push(events.after)
  }
  expect(events.cut).toBe(false)
  const frames = new PcapngReader(join(folder, 'frames.pcapng'))
  let count = 0
  while (frames.next()) count++
  expect(frames.cut).toBe(false)
  return { events: found, after, frames: count }
}

function play(stream: RecordStream, from: number, to: number): void {
  for (let k = from; k < to; k++) {
    stream.frame(0, FRAME, k, true)
    stream.event(tick(k))
    stream.flush()
  }
}

test('a writer that keeps up has everything, and is known to', () => {
  const { stream, write, tell } = setUp()
  play(stream, 0, 5)
  expect(stream.allWritten).toBe(false)
  write()
  tell()
  expect(stream.allWritten).toBe(true)
  expect(recorded()).toMatchObject({ after: [1, 2, 3, 4, 5], frames: 5 })
})

test.each([
  ['had written nothing', 0, 0],
  ['had written half and said so', 5, 5],
  ['had written more than it said', 8, 3],
  ['had written all and said nothing', 10, 0],
])('a writer that dies when it %s loses nothing, and nothing is there twice', (_, wrote, said) => {
  const { stream, write, tell } = setUp()
  play(stream, 0, 10)
  write(said)
  tell()
  write(wrote - said)
  // Half a record more, as of a kill in the middle of a write.
  appendFileSync(join(folder, 'events.jsonl'), '{"after":11,"ki')
  stream.takeOver(folder)
  play(stream, 10, 15)
  stream.close()
  const { events, after, frames } = recorded()
  expect(events.map((e) => e.kind === 'tick' && e.k)).toEqual([...Array(15).keys()])
  expect(after).toEqual(Array.from({ length: 15 }, (_, i) => i + 1))
  expect(frames).toBe(15)
})

test('beyond the bound frames and ticks are dropped and counted; what says why a run ended is not', () => {
  const { stream, write, tell } = setUp(2000)
  play(stream, 0, 1000)
  stream.event(stage(1000))
  stream.flush()
  play(stream, 1001, 1010)
  write()
  tell()
  play(stream, 1010, 1020)
  write()
  const { events, frames } = recorded()
  const lost = events.flatMap((e) => (e.kind === 'lost' ? [e] : []))
  const ticks = events.filter((e) => e.kind === 'tick').length
  expect(lost).toHaveLength(2)
  expect(lost[0]!.t).toBe(1000)
  expect(lost[1]!.t).toBe(1010)
  const sum = (what: 'frames' | 'ticks'): number => lost.reduce((all, e) => all + e[what], 0)
  expect(frames + sum('frames')).toBe(1019)
  expect(ticks + sum('ticks')).toBe(1019)
  expect(frames).toBeLessThan(100)
  expect(events.filter((e) => e.kind === 'stage')).toHaveLength(1)
  expect(events.at(-1)).toMatchObject({ kind: 'tick', k: 1019 })
})
