/** candump log text against Debian's python3-can (can.io, reader and writer) and can-utils' log2long. */
import { spawnSync } from 'node:child_process'
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import { randomStream } from '../../src/random.js'
import { candumpLine, readCandump } from '../../src/wire/candump.js'
import type { Frame } from '../../src/wire/frame.js'
import { needs } from '../setup/needs.js'

interface Row {
  /** us */
  t: number
  bus: string
  id: number
  extended: boolean
  remote: boolean
  dlc: number
  data: number[]
}

/** 2,000 seeded frames of all kinds with rising times. */
function seededRows(withRemoteLengths: boolean): Row[] {
  const random = randomStream(8, 'candump outside')
  const whole = (n: number): number => Math.floor(random.uniform() * n)
  let t = 0
  return Array.from({ length: 2000 }, () => {
    t += whole(300_000)
    const extended = whole(3) === 0
    const remote = whole(8) === 0
    const dlc = remote && !withRemoteLengths ? 0 : whole(9)
    return {
      t,
      bus: ['port-can', 'starboard-can'][whole(2)]!,
      id: whole(extended ? 2 ** 29 : 2048),
      extended,
      remote,
      dlc,
      data: Array.from({ length: remote ? 0 : dlc }, () => whole(256)),
    }
  })
}

function frameOf(r: Row): Frame {
  const { id, extended, remote } = r
  return { id, extended, remote, data: remote ? new Uint8Array(r.dlc) : Uint8Array.from(r.data) }
}

/** Our reader's records in the shape of rows; error records are not among them. */
function rowsOf(text: string): Row[] {
  return readCandump(text).flatMap((r) => {
    if (r.what !== 'frame') return []
    const { id, extended, remote, data } = r.frame
    return [
      { t: r.t / 1000, bus: r.bus, id, extended, remote, dlc: data.length, data: remote ? [] : [...data] },
    ]
  })
}

const READ = `
import json, sys, can
rows = [dict(t=round(m.timestamp * 1e6), bus=m.channel, id=m.arbitration_id, extended=m.is_extended_id,
             remote=m.is_remote_frame, dlc=m.dlc, data=list(m.data)) for m in can.io.CanutilsLogReader(sys.argv[1])]
json.dump(rows, sys.stdout)
`

const WRITE = `
import json, sys, can
with can.io.CanutilsLogWriter(sys.argv[1]) as log:
    for r in json.load(sys.stdin):
        log.on_message_received(can.Message(timestamp=r['t'] / 1e6, channel=r['bus'], arbitration_id=r['id'],
            is_extended_id=r['extended'], is_remote_frame=r['remote'], dlc=r['dlc'],
            data=None if r['remote'] else r['data'], is_rx=r['id'] % 2 == 0))
    log.on_message_received(can.Message(timestamp=2000, channel='port-can', is_error_frame=True))
`

let folder: string
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), 'candump-'))
})
afterAll(() => rmSync(folder, { recursive: true, force: true }))

function run(command: string, args: string[], input = ''): string {
  const { status, stdout, stderr, error } = spawnSync(command, args, {
    input,
    encoding: 'utf8',
    maxBuffer: 1 << 26,
  })
  if (status !== 0) throw new Error(`${command} ended with ${status}: ${stderr}`, { cause: error })
  return stdout
}

describe.skipIf(!needs('python3-can'))('python3-can', () => {
  it('reads what we write', () => {
    const rows = seededRows(true)
    const file = join(folder, 'ours.log')
    // 999 ns more: cut off in the text.
    const lines = rows.map((r) => candumpLine(r.t * 1000 + 999, r.bus, frameOf(r)))
    writeFileSync(file, `${lines.join('\n')}\n`)
    expect(JSON.parse(run('/usr/bin/python3', ['-c', READ, file]))).toEqual(rows)
  })

  it('writes what we read', () => {
    // Its writer leaves out the length code of a remote frame.
    const rows = seededRows(false)
    const file = join(folder, 'theirs.log')
    run('/usr/bin/python3', ['-c', WRITE, file], JSON.stringify(rows))
    const text = readFileSync(file, 'utf8')
    expect(rowsOf(text)).toEqual(rows)
    // Its last message is an error report (class 80h, bus error), and its lines say who sent.
    const records = readCandump(text)
    expect(records.at(-1)).toEqual({
      what: 'error',
      t: 2000e9,
      bus: 'port-can',
      errorClass: 0x80,
      data: new Uint8Array(0),
    })
    expect(records.slice(0, -1).map((r) => r.what === 'frame' && r.sent)).toEqual(
      rows.map((r) => r.id % 2 === 1),
    )
  })
})

describe.skipIf(!needs('can-utils'))('can-utils', () => {
  it('log2long understands what we write', () => {
    const rows = seededRows(true)
    const text = `${rows.map((r) => candumpLine(r.t * 1000, r.bus, frameOf(r))).join('\n')}\n`
    const lines = run('log2long', [], text).trimEnd().split('\n')
    expect(lines).toHaveLength(rows.length)
    rows.forEach((r, i) => {
      const id = r.id.toString(16).toUpperCase()
      const data = r.data.map((b) => b.toString(16).toUpperCase().padStart(2, '0'))
      const [time, bus, shownId, ...rest] = lines[i]!.replace(/ '.*$/, '').trim().split(/\s+/)
      expect(Number(time!.slice(1, -1)), lines[i]).toBeCloseTo(r.t / 1e6, 6)
      expect([bus, shownId], lines[i]).toEqual([r.bus, id.padStart(r.extended ? 8 : 3, '0')])
      expect(rest.join(' '), lines[i]).toBe(
        [`[${r.dlc}]`, ...(r.remote ? ['remote', 'request'] : data)].join(' '),
      )
    })
  })
})
