/** The exported candump log as an independent reader, python3-can (Debian package), reads it. */
import { spawnSync } from 'node:child_process'
import { writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { describe, expect, it } from 'vitest'
import { exportCandump } from '../../src/record/export.js'
import { needs } from '../setup/needs.js'
import {
  CONTENTS,
  ITEMS,
  type Item,
  isEvent,
  record,
  type Step,
  scratch,
} from '../unit/record/sample-recording.js'

const READER = `
import can, json, sys
rows = []
for m in can.CanutilsLogReader(sys.argv[1]):
    rows.append([round(m.timestamp * 1e6), m.channel, m.arbitration_id, m.is_extended_id, m.is_remote_frame, bytes(m.data).hex()])
print(json.dumps(rows))
`

function read(text: string): unknown[] {
  const file = join(scratch(), 'run.log')
  writeFileSync(file, text)
  const { stdout, stderr, status } = spawnSync('/usr/bin/python3', ['-c', READER, file], {
    encoding: 'utf8',
    maxBuffer: 1 << 26,
  })
  if (status !== 0) throw new Error(stderr)
  return JSON.parse(stdout) as unknown[]
}

const row = (s: Step): unknown[] => [
  Math.floor(s.t / 1000),
  CONTENTS.buses[s.bus]!.name,
  s.frame.id,
  s.frame.extended,
  s.frame.remote,
  Buffer.from(s.frame.data).toString('hex'),
]

describe.skipIf(!needs('python3-can'))('python3-can reads the exported log', () => {
  it('with the same frames, times cut to microseconds', () => {
    const steps = ITEMS.filter((i): i is Step => !isEvent(i))
    // Doubles of seconds hold microseconds for times below 2^33 us or so; the sample's 52-bit times are beyond that.
    const early = steps.filter((s) => s.t < 2 ** 40)
    expect(early.length).toBeGreaterThan(3)
    expect(read([...exportCandump(record(early))].join(''))).toEqual(early.map(row))
  })

  it('with a date added when one is given', () => {
    const [first] = read([...exportCandump(record([ITEMS[2]!]), 1_700_000_000)].join('')) as [number][]
    expect(first![0]).toBe(1_700_000_000_000_001)
  })

  it('in pieces of bounded size, with no line broken or lost', () => {
    const step = ITEMS.find((i): i is Step => !isEvent(i) && i.frame.data.length === 8)!
    const many: Item[] = Array.from({ length: 20_000 }, (_, i) => ({ ...step, t: i * 1000 }))
    const pieces = [...exportCandump(record(many))]
    expect(pieces.length).toBeGreaterThan(5)
    expect(Math.max(...pieces.map((p) => p.length))).toBeLessThan(70_000)
    expect(pieces.every((p) => p.endsWith('\n'))).toBe(true)
    expect(read(pieces.join(''))).toEqual(many.map((m) => row(m as Step)))
  })
})
