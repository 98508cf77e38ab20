/** frames.pcapng as an independent program, tshark (Debian package), reads it: same count, identifiers, bytes, times, direction, buses. */
import { spawnSync } from 'node:child_process'
import { readFileSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { describe, expect, it } from 'vitest'
import { randomStream } from '../../src/random.js'
import { openRecording } from '../../src/record/read.js'
import { needs } from '../setup/needs.js'
import { DEMO_RIG, played, scenarioText } from '../setup/runs.js'
import { CONTENTS, type Item, record, type Step, scratch } from '../unit/record/sample-recording.js'

const FIELDS = [
  'frame.time_epoch',
  'frame.interface_name',
  'frame.packet_flags_direction',
  'can.id',
  'can.flags.xtd',
  'can.flags.rtr',
  'can.len',
  'data.data',
] as const

/** 1,000 frames of all lengths and kinds, times up to about 100 days, in order. */
function frames(): Step[] {
  const random = randomStream(20, 'tshark frames')
  let t = 0
  return Array.from({ length: 1000 }, (_, i) => {
    t += Math.floor(random.uniform() * (i % 100 === 0 ? 1e15 : 1e6))
    const extended = i % 5 === 0
    const remote = i % 17 === 0
    return {
      bus: i % 2,
      t,
      sent: random.uniform() < 0.5,
      frame: {
        id: Math.floor(random.uniform() * (extended ? 2 ** 29 : 2 ** 11)),
        extended,
        remote,
        data: Uint8Array.from({ length: remote ? 0 : i % 9 }, () => Math.floor(random.uniform() * 256)),
      },
    }
  })
}

const SAMPLE_BUSES = CONTENTS.buses.map((bus) => bus.name)

function expected(s: Step, buses: readonly string[] = SAMPLE_BUSES): string {
  const time = `${Math.floor(s.t / 1e9)}.${String(s.t % 1e9).padStart(9, '0')}`
  // epb_flags of the pcapng draft, 4.3.1: 1 inbound, 2 outbound.
  const direction = s.sent ? '2' : '1'
  const data = Buffer.from(s.frame.data).toString('hex')
  return [
    time,
    buses[s.bus]!,
    direction,
    s.frame.id,
    Number(s.frame.extended),
    Number(s.frame.remote),
    s.frame.data.length,
    data,
  ].join('|')
}

function tshark(path: string): { rows: string[]; says: string } {
  // One guess at what the data could mean is on by default, and would hide the bytes.
  const options = ['-n', '--disable-protocol', 'autosar-nm', '-T', 'fields', '-E', 'separator=|']
  const args = ['-r', path, ...options, ...FIELDS.flatMap((f) => ['-e', f])]
  const { stdout, stderr } = spawnSync('tshark', args, { encoding: 'utf8', maxBuffer: 1 << 26 })
  const rows = stdout
    .split('\n')
    .filter((line) => line !== '')
    .map((line) => {
      const [time, name, direction, id, extended, remote, length, data = ''] = line.split('|')
      return [time, name, Number(direction), Number(id), Number(extended), Number(remote), length, data].join(
        '|',
      )
    })
  return { rows, says: stderr }
}

describe.skipIf(!needs('tshark'))('tshark reads frames.pcapng', () => {
  const sent = frames()
  const folder = record([...sent, { kind: 'end', t: sent.at(-1)!.t, reason: 'completed' } satisfies Item])
  const path = join(folder, 'frames.pcapng')

  it('whole: the same frames in the same order', () => {
    const { rows, says } = tshark(path)
    expect(says).not.toMatch(/damaged|corrupt|cut short/i)
    expect(rows).toEqual(sent.map((s) => expected(s)))
  })

  it('cut in the middle of a block: all the whole ones', () => {
    const bytes = readFileSync(path)
    const cut = join(scratch(), 'cut.pcapng')
    writeFileSync(cut, bytes.subarray(0, bytes.length - 30))
    const { rows, says } = tshark(cut)
    expect(says).toContain('cut short')
    expect(rows).toEqual(sent.slice(0, -1).map((s) => expected(s)))
  })

  it('of a real run: every frame with time, bus, direction, identifier and bytes, in the order of the recording', async () => {
    const { folder: run } = await played(DEMO_RIG, scenarioText('operator-stop'))
    const steps: Step[] = []
    openRecording(run).replay({
      frame: (bus, frame, t, sent) => steps.push({ bus, frame, t, sent }),
      event: () => {},
    })
    const { rows, says } = tshark(join(run, 'frames.pcapng'))
    expect(says).not.toMatch(/damaged|corrupt|cut short/i)
    expect(rows).toHaveLength(steps.length)
    // Two buses of six drives at 200 Hz for more than 14 s: SYNC, setpoints and feedback alone, until the stop.
    expect(rows.length).toBeGreaterThan(2 * (1 + 6) * 200 * 14)
    // SYNC goes out, feedback comes in.
    const fields = rows.map((row) => row.split('|'))
    const directions = (id: number) => [
      ...new Set(fields.filter((f) => Number(f[3]) === id).map((f) => f[2])),
    ]
    expect(directions(0x080)).toEqual(['2'])
    expect(directions(0x18b)).toEqual(['1'])
    const wrong = rows.findIndex((row, i) => row !== expected(steps[i]!, ['port-can', 'starboard-can']))
    expect(rows[wrong]).toBe(steps[wrong] && expected(steps[wrong], ['port-can', 'starboard-can']))
    expect(wrong).toBe(-1)
  })
})
