import { mkdirSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { describe, expect, it } from 'vitest'
import { DrystrokeError } from '../../../src/errors.js'
import { randomStream } from '../../../src/random.js'
import { recordedNumber } from '../../../src/record/event-fields.js'
import { recordingFolder, writeWhole } from '../../../src/record/folder.js'
import { provenanceNow } from '../../../src/record/provenance.js'
import { openRecording } from '../../../src/record/read.js'
import { RecordingWriter } from '../../../src/record/write.js'
import { CONTENTS, collector, ITEMS, type Item, isEvent, record, scratch } from './sample-recording.js'

function refusal(action: () => unknown): DrystrokeError {
  try {
    action()
  } catch (error) {
    if (error instanceof DrystrokeError) return error
    throw error
  }
  throw new Error('was not refused')
}

describe('a recording', () => {
  it('gives back every frame and event, value for value, in their order', () => {
    const sink = collector()
    const recording = openRecording(record())
    expect(recording.replay(sink)).toEqual({ cut: false })
    // -0 is the one value that is not kept.
    const expected = ITEMS.map((i) =>
      'setpoints' in i && i.k === 3 ? { ...i, setpoints: [0.1, 0, -1.234567, 1e-6, 0, 3] } : i,
    )
    expect(sink.items).toEqual(expected)
    expect(recording.rigText).toBe(CONTENTS.rigText)
    expect(recording.scenarioText).toBe(CONTENTS.scenarioText)
    expect(recording.provenance?.host).toBe('bench')
  })

  it('can be replayed twice', () => {
    const recording = openRecording(record())
    const [a, b] = [collector(), collector()]
    recording.replay(a)
    recording.replay(b)
    expect(b.items).toEqual(a.items)
    expect(a.items).toHaveLength(ITEMS.length)
  })

  it('writes lines with `after` first and the other keys in a fixed order, whatever the order in the event', () => {
    const e = {
      unit: 'rad',
      limit: 2,
      value: 1,
      quantity: 'position',
      place: 'port.elbow',
      t: 5,
      kind: 'gate',
    } as const
    const folder = record([ITEMS[2]!, e])
    expect(readFileSync(join(folder, 'events.jsonl'), 'utf8')).toBe(
      '{"after":1,"kind":"gate","t":5,"place":"port.elbow","quantity":"position","value":1,"limit":2,"unit":"rad"}\n',
    )
  })

  it('has the same bytes for the same run, apart from the provenance', () => {
    const [a, b] = [record(), record()]
    for (const file of ['frames.pcapng', 'events.jsonl', 'rig.yaml', 'scenario.yaml']) {
      expect(readFileSync(join(b, file)).equals(readFileSync(join(a, file)))).toBe(true)
    }
    expect(readdirSync(a).sort()).toEqual([
      'events.jsonl',
      'frames.pcapng',
      'provenance.json',
      'rig.yaml',
      'scenario.yaml',
    ])
  })

  it('carries positions of ticks to 1e-6 rad, and `recordedNumber` says beforehand what a reader will get', () => {
    const random = randomStream(1, 'recorded angles')
    const values = Array.from({ length: 5000 }, (_, i) => random.normal() * 10 ** ((i % 12) - 7))
    const sink = collector()
    openRecording(
      record([{ kind: 'tick', t: 0, k: 0, late: 0, setpoints: values, witness: values.map(recordedNumber) }]),
    ).replay(sink)
    const tick = sink.items[0] as Extract<Item, { kind: 'tick' }>
    expect(tick.setpoints).toEqual(values.map(recordedNumber))
    expect(tick.witness).toEqual(values.map(recordedNumber))
    expect(Math.max(...values.map((v, i) => Math.abs(v - tick.setpoints![i]!)))).toBeLessThanOrEqual(
      0.5000001e-6,
    )
    expect(Object.is(recordedNumber(-1e-9), 0)).toBe(true)
  })

  it('takes texts longer than its buffer', () => {
    const long: Item = { kind: 'driver', t: 0, code: 'x', place: '', says: 'ä'.repeat(300_000) }
    const sink = collector()
    openRecording(record([long, ITEMS[1]!])).replay(sink)
    expect(sink.items).toEqual([long, ITEMS[1]])
  })

  it('spans many buffers', () => {
    const steps = ITEMS.filter((i) => !isEvent(i))
    const events = ITEMS.filter((i) => isEvent(i) && i.kind !== 'end')
    const items: Item[] = []
    for (let i = 0; i < 60_000; i++)
      items.push(steps[i % steps.length]!, ...(i % 40 === 0 ? [events[i % events.length]!] : []))
    items.push(ITEMS.at(-1)!)
    const folder = record(items)
    let n = 0
    openRecording(folder).replay({
      frame: (bus, frame, t, sent) => {
        const was = items[n++]!
        if (isEvent(was) || was.bus !== bus || was.t !== t || was.sent !== sent || was.frame.id !== frame.id)
          throw new Error(`item ${n}`)
        if (Buffer.compare(was.frame.data, frame.data) !== 0) throw new Error(`data ${n}`)
      },
      event: (e) => {
        if (e.kind !== (items[n++] as { kind: string }).kind) throw new Error(`event ${n}`)
      },
    })
    expect(n).toBe(items.length)
    // Padding is zero, though the buffer held other bytes there before (pcapng draft, 3.1).
    const bytes = readFileSync(join(folder, 'frames.pcapng'))
    let padding = 0
    for (let at = 0; at < bytes.length; at += bytes.readUInt32LE(at + 4)) {
      if (bytes.readUInt32LE(at) !== 6) continue
      const end = at + 28 + bytes.readUInt32LE(at + 20)
      const next = at + bytes.readUInt32LE(at + 4) - 16
      for (let i = end; i < next; i++) {
        padding++
        if (bytes[i] !== 0) throw new Error(`padding at ${i}`)
      }
    }
    expect(padding).toBeGreaterThan(10_000)
  })

  it('is readable up to the last flush while it is still being written', () => {
    const folder = join(scratch(), 'run')
    const writer = new RecordingWriter(folder, CONTENTS)
    const see = (): { items: Item[]; cut: boolean } => {
      const sink = collector()
      return { cut: openRecording(folder).replay(sink).cut, items: sink.items }
    }
    expect(see()).toEqual({ items: [], cut: true })
    writer.event(ITEMS[0] as Extract<Item, { kind: 'begin' }>)
    writer.flush()
    writer.event(ITEMS[1] as Extract<Item, { kind: 'stage' }>)
    expect(see()).toEqual({ items: [ITEMS[0]], cut: true })
    writer.close()
    writer.close()
    expect(see()).toEqual({ items: ITEMS.slice(0, 2), cut: true })
    expect(JSON.parse(readFileSync(join(folder, 'provenance.json'), 'utf8')).ended).toMatch(/^\d{4}-.*Z$/)
  })
})

describe('a recording folder', () => {
  it('gets the first free name and cannot lead out of its place', () => {
    const out = scratch()
    expect(recordingFolder(out, 'slow-ahead')).toBe(join(out, 'slow-ahead'))
    mkdirSync(join(out, 'slow-ahead'))
    expect(recordingFolder(out, 'slow-ahead')).toBe(join(out, 'slow-ahead-2'))
    mkdirSync(join(out, 'slow-ahead-2'))
    expect(recordingFolder(out, 'slow-ahead')).toBe(join(out, 'slow-ahead-3'))
    expect(recordingFolder(out, '../../etc/x y')).toBe(join(out, 'etc-x-y'))
    expect(recordingFolder(out, '..')).toBe(join(out, 'run'))
  })

  it('is never written over', () => {
    const folder = record()
    const before = readFileSync(join(folder, 'frames.pcapng'))
    const error = refusal(() => new RecordingWriter(folder, CONTENTS))
    expect(error.code).toBe('file-access')
    expect(error.message).toContain(folder)
    expect(error.message).toContain('already there')
    expect(readFileSync(join(folder, 'frames.pcapng')).equals(before)).toBe(true)
  })

  it('says why when it cannot be made', () => {
    const file = join(scratch(), 'file')
    writeFileSync(file, '')
    expect(refusal(() => new RecordingWriter(join(file, 'run'), CONTENTS)).code).toBe('file-access')
  })

  it('holds whole files or none', () => {
    const path = join(scratch(), 'verdict.json')
    writeWhole(path, 'one')
    writeWhole(path, 'two')
    expect(readFileSync(path, 'utf8')).toBe('two')
    mkdirSync(`${path}.part`)
    expect(refusal(() => writeWhole(path, 'three')).code).toBe('file-access')
    expect(readFileSync(path, 'utf8')).toBe('two')
  })

  it('has its provenance from this machine', () => {
    const p = provenanceNow({ rigFile: 'r', scenarioFile: 's', arms: 'simulated', arguments: ['run'] })
    expect(p).toMatchObject({ ended: null, node: process.version, arguments: ['run'], arms: 'simulated' })
    expect(p.drystroke).toMatch(/^\d+\.\d+\.\d+/)
  })
})

describe('what is no recording', () => {
  it.each(['frames.pcapng', 'events.jsonl', 'rig.yaml', 'scenario.yaml'])(
    'says that %s is missing',
    (file) => {
      const folder = record()
      rmSync(join(folder, file))
      const error = refusal(() => openRecording(folder))
      expect(error.code).toBe('recording-invalid')
      expect(error.message).toContain(file)
      expect(error.message).toContain(folder)
    },
  )

  it('judges without a provenance', () => {
    const folder = record()
    writeFileSync(join(folder, 'provenance.json'), '{')
    expect(openRecording(folder).provenance).toBeNull()
  })

  it.each<[string, string, string]>([
    ['no JSON', '{"after":0,\n', 'line 1'],
    ['null', 'null\n', 'line 1'],
    ['a strange kind', '{"after":0,"kind":"party","t":0}\n', 'party'],
    ['a kind that every object knows', '{"after":0,"kind":"constructor","t":0}\n', 'constructor'],
    ['no kind', '{"after":0,"t":0}\n', 'undefined'],
    [
      'a tick without positions',
      '{"after":0,"kind":"tick","t":0,"k":1,"late":0,"setpoints":3,"witness":null}\n',
      'setpoints',
    ],
    [
      'a text where a position is due',
      '{"after":0,"kind":"tick","t":0,"k":1,"late":0,"setpoints":["x"],"witness":null}\n',
      'x',
    ],
    ['a missing field', '{"after":0,"kind":"stage","t":0}\n', 'stage'],
    ['a wrong type', '{"after":0,"kind":"command","t":0,"surge":"0.3","yaw":0}\n', 'surge'],
    ['a time before zero', '{"after":0,"kind":"release","t":-1}\n', '-1'],
    [
      'an order that turns back',
      '{"after":2,"kind":"release","t":0}\n{"after":1,"kind":"release","t":0}\n',
      'line 2',
    ],
    [
      'an event behind the end',
      '{"after":0,"kind":"end","t":0,"reason":"signal"}\n{"after":0,"kind":"release","t":0}\n',
      'end',
    ],
  ])('refuses events with %s', (_, text, said) => {
    const folder = record()
    writeFileSync(join(folder, 'events.jsonl'), text)
    const error = refusal(() => openRecording(folder).replay(collector()))
    expect(error.code).toBe('recording-invalid')
    expect(error.message).toContain('events.jsonl')
    expect(error.message).toContain(said)
  })

  it.each<[string, string, (b: Buffer) => void]>([
    ['another file', 'a section header', (b) => b.write('PK')],
    ['an unknown byte order', 'byte-order magic', (b) => b.writeUInt32LE(1, 8)],
    ['another link type', 'link type 1', (b) => b.writeUInt16LE(1, 28 + 8)],
    ['another time resolution', 'time resolution of 6', (b) => b.writeUInt8(6, 28 + 16 + 4 + 8 + 12 + 4)],
    ['a length that does not fit', 'block of 33 bytes', (b) => b.writeUInt32LE(33, packet(b) + 4)],
    ['two lengths that differ', 'ends with the length', (b) => b.writeUInt32LE(4 * 13, packet(b) + 4)],
    ['a bus that is not there', 'interface 2', (b) => b.writeUInt32LE(2, packet(b) + 8)],
    ['more data than there is', 'too short', (b) => b.writeUInt8(9, packet(b) + 32)],
    ['a captured length beyond its block', 'too short', (b) => b.writeUInt32LE(60, packet(b) + 20)],
  ])('refuses frames with %s', (_, said, harm) => {
    const folder = record()
    const path = join(folder, 'frames.pcapng')
    const bytes = readFileSync(path)
    harm(bytes)
    writeFileSync(path, bytes)
    const error = refusal(() => openRecording(folder).replay(collector()))
    expect(error.code).toBe('recording-invalid')
    expect(error.message).toMatch(/frames\.pcapng, byte \d+: found .* expected /)
    expect(error.message).toContain(said)
  })
})

/** Place of the first packet block: behind the section and the two interfaces. */
function packet(bytes: Buffer): number {
  let at = 0
  while (bytes.readUInt32LE(at) !== 6) at += bytes.readUInt32LE(at + 4)
  return at
}

describe('a recording whose end is there', () => {
  it.each([
    ['frames.pcapng', 12],
    ['events.jsonl', 12],
  ])('is cut all the same when half a record stands behind in %s', (file, length) => {
    const folder = record()
    const path = join(folder, file)
    const bytes = readFileSync(path)
    // The beginning of the file's own last record once more.
    const last = file === 'events.jsonl' ? bytes.lastIndexOf('\n', -2) + 1 : packet(bytes)
    writeFileSync(path, Buffer.concat([bytes, bytes.subarray(last, last + length)]))
    const sink = collector()
    expect(openRecording(folder).replay(sink)).toEqual({ cut: true })
    expect(sink.items).toHaveLength(ITEMS.length)
  })
})

describe('a recording cut at any byte', () => {
  const whole = record()
  const all = seen(whole).items

  /** What a replay gives, each item as text: thousands of replays are compared. */
  function seen(folder: string): { items: string[]; cut: boolean } {
    const items: string[] = []
    const text = (item: Item): string =>
      JSON.stringify(item, (_, v) => (Number.isFinite(v) ? v : typeof v === 'number' ? `${v}` : v))
    const { cut } = openRecording(folder).replay({
      frame: (bus, frame, t, sent) => items.push(text({ bus, frame, t, sent })),
      event: (e) => items.push(text(e)),
    })
    return { items, cut }
  }

  const isEventText = (item: string): boolean => item.startsWith('{"kind"')

  function eachCut(
    file: string,
    lengths: (bytes: Buffer) => Iterable<number>,
    see: (result: ReturnType<typeof seen>) => void,
    tail = Buffer.alloc(0),
  ): void {
    const path = join(whole, file)
    const bytes = readFileSync(path)
    try {
      for (const length of lengths(bytes)) {
        writeFileSync(path, Buffer.concat([bytes.subarray(0, length), tail]))
        see(seen(whole))
      }
    } finally {
      writeFileSync(path, bytes)
    }
  }

  const everyByte = (bytes: Buffer): number[] => Array.from({ length: bytes.length }, (_, n) => n)

  it.each([
    ['as it is', everyByte, 0],
    // Zeros in the middle of a block are damage, and found as that; at a block's start they are a cut.
    [
      'with zeros behind a block, as a power failure may leave them',
      (b: Buffer) => everyByte(b).filter((n) => n > 0 && atBlock(b, n)),
      64,
    ],
  ])('never throws and gives what came before: frames, %s', (_, lengths, zeros) => {
    let most = 0
    eachCut(
      'frames.pcapng',
      lengths,
      ({ items, cut }) => {
        expect(cut).toBe(true)
        expect(items.join('\n')).toBe(all.slice(0, items.length).join('\n'))
        expect(items.length).toBeGreaterThanOrEqual(most)
        most = items.length
      },
      Buffer.alloc(zeros),
    )
    // All but the last frame and the event behind it.
    expect(most).toBe(all.length - 2)
  })

  it('never throws and gives what came before: events, and no frame behind the last one', () => {
    let most = 0
    eachCut('events.jsonl', everyByte, ({ items, cut }) => {
      expect(cut).toBe(true)
      expect(items.join('\n')).toBe(all.slice(0, items.length).join('\n'))
      if (items.length > 0) expect(isEventText(items.at(-1)!)).toBe(true)
      expect(items.length).toBeGreaterThanOrEqual(most)
      most = items.length
    })
    // All but the event "end" and the frame before it.
    expect(most).toBe(all.length - 2)
  })
})

function atBlock(bytes: Buffer, place: number): boolean {
  let at = 0
  while (at < place) at += bytes.readUInt32LE(at + 4)
  return at === place
}
