/** CANopen messages against a second decoder that runs: the CANopen dissector of Debian's tshark. */
import { spawnSync } from 'node:child_process'
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import { randomStream } from '../../src/random.js'
import { emergencyFrame, heartbeatFrame, nmtFrame, SYNC_FRAME } from '../../src/wire/cia402/network.js'
import { OBJECT } from '../../src/wire/cia402/objects.js'
import {
  ABORT,
  abortReply,
  readReply,
  readRequest,
  readSdoReply,
  readSdoRequest,
  writeReply,
  writeRequest,
} from '../../src/wire/cia402/sdo.js'
import type { Frame } from '../../src/wire/frame.js'
import type { NmtCommand } from '../../src/wire/observation.js'
import { needs } from '../setup/needs.js'

/** pcap (nanoseconds are of no interest here), link type 227: CAN ID big-endian, length, three bytes of padding, data. */
function pcap(frames: readonly Frame[]): Buffer {
  const head = Buffer.alloc(24)
  head.writeUInt32LE(0xa1b2c3d4, 0)
  head.writeUInt16LE(2, 4)
  head.writeUInt16LE(4, 6)
  head.writeUInt32LE(65_535, 16)
  head.writeUInt32LE(227, 20)
  const packets = frames.map((f) => {
    const packet = Buffer.alloc(16 + 8 + f.data.length)
    packet.writeUInt32LE(8 + f.data.length, 8)
    packet.writeUInt32LE(8 + f.data.length, 12)
    packet.writeUInt32BE(f.id, 16)
    packet.writeUInt8(f.data.length, 20)
    packet.set(f.data, 24)
    return packet
  })
  return Buffer.concat([head, ...packets])
}

let folder: string
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), 'canopen-'))
})
afterAll(() => rmSync(folder, { recursive: true, force: true }))

/** What tshark sees: for each frame its summary and the fields asked for, bytes as text, absent ones as ''. */
function dissect(frames: readonly Frame[], fields: readonly string[]): (string | number)[][] {
  const file = join(folder, 'frames.pcap')
  writeFileSync(file, pcap(frames))
  const wanted = ['_ws.col.Info', ...fields].flatMap((f) => ['-e', f])
  const args = ['-r', file, '-d', 'can.subdissector,canopen', '-T', 'fields', ...wanted]
  const { status, stdout, stderr } = spawnSync('tshark', args, { encoding: 'utf8', maxBuffer: 1 << 26 })
  if (status !== 0) throw new Error(`tshark ended with ${status}: ${stderr}`)
  const rows = stdout.replace(/\n$/, '').split('\n')
  expect(rows).toHaveLength(frames.length)
  const cellOf = (cell: string, field: string | undefined): string | number =>
    cell === '' || field === undefined || field.endsWith('.bytes') ? cell.trim() : Number(cell)
  return rows.map((row) => row.split('\t').map((cell, i) => cellOf(cell, fields[i - 1])))
}

const little = (value: number): string => {
  const data = Buffer.alloc(4)
  data.writeUInt32LE(value >>> 0)
  return data.toString('hex')
}

describe.skipIf(!needs('tshark'))('tshark reads as we mean it', () => {
  it('NMT, SYNC, heartbeat', () => {
    const commands: [NmtCommand, string, number][] = [
      ['start', 'Start remote node', 1],
      ['stop', 'Stop remote node', 2],
      ['pre-operational', 'Enter pre-operational state', 128],
      ['reset node', 'Reset node', 129],
      ['reset communication', 'Reset communication', 130],
    ]
    const found = dissect(
      commands.map(([c], i) => nmtFrame(c, i)),
      ['canopen.nmt_ctrl.cd', 'canopen.nmt_ctrl.node_id'],
    )
    expect(found).toEqual(commands.map(([, words, byte], i) => [expect.stringContaining(words), byte, i]))

    const states = [
      ['boot-up', 'Boot-up'],
      ['stopped', 'Stopped'],
      ['operational', 'Operational'],
      ['pre-operational', 'Pre-operational'],
    ] as const
    const beats = dissect([SYNC_FRAME, ...states.map(([s]) => heartbeatFrame(11, s))], ['canopen.node_id'])
    expect(beats[0]![0]).toBe('SYNC')
    expect(beats.slice(1)).toEqual(states.map(([, words]) => [expect.stringContaining(words), 11]))
  })

  it('emergencies', () => {
    const codes = [0x0000, 0x2001, 0x8130, 0x8611, 0xff00]
    const found = dissect(
      codes.map((c, i) => emergencyFrame(20 + i, c, i)),
      ['canopen.node_id', 'canopen.em.err_code', 'canopen.em.err_reg'],
    )
    expect(found).toEqual(codes.map((c, i) => ['EMCY', 20 + i, c, i]))
  })

  it('expedited SDO transfers of every object, both ways', () => {
    const random = randomStream(31, 'sdo')
    const FIELDS = [
      'node_id',
      'sdo.main_idx',
      'sdo.sub_idx',
      'sdo.data.bytes',
      'sdo.n',
      'sdo.s',
      'sdo.e',
    ].map((f) => `canopen.${f}`)
    const node = 17
    const frames: Frame[] = []
    const expected: unknown[][] = []
    for (const o of Object.values(OBJECT)) {
      const value = Math.floor(random.uniform() * 2 ** 32) >>> (32 - 8 * o.bytes)
      // Four bytes always, and how many of them are no data.
      const content = [little(value), 4 - o.bytes, 1, 1]
      frames.push(writeRequest(node, o, value), writeReply(node, o.index, o.sub))
      expected.push(['Default-SDO (rx): Initiate download request', node, o.index, o.sub, ...content])
      expected.push(['Default-SDO (tx): Initiate download response', node, o.index, o.sub, '', '', '', ''])
      frames.push(readRequest(node, o), readReply(node, o, value))
      expected.push(['Default-SDO (rx): Initiate upload request', node, o.index, o.sub, '', '', '', ''])
      expected.push(['Default-SDO (tx): Initiate upload response', node, o.index, o.sub, ...content])
      // Our own reading of the same frames.
      const { index, sub, bytes } = o
      const raw = value
      const [write, written, read, got] = frames.slice(-4).map((f) => f.data)
      expect(readSdoRequest(write!)).toEqual({ what: 'write', index, sub, bytes, raw })
      expect(readSdoReply(written!)).toEqual({ what: 'written', index, sub })
      expect(readSdoRequest(read!)).toEqual({ what: 'read', index, sub })
      expect(readSdoReply(got!)).toEqual({ what: 'value', index, sub, bytes, raw })
    }
    expect(dissect(frames, FIELDS)).toEqual(expected)
  })

  it('SDO aborts, with the meaning that CiA 301 gives each code', () => {
    const meanings: Record<keyof typeof ABORT, RegExp> = {
      toggle: /toggle bit not alternated/i,
      command: /command specifier not valid/i,
      readOnly: /write a read only object/i,
      noObject: /object does not exist/i,
      notMappable: /cannot be mapped/i,
      mappingTooLong: /exceed PDO length/i,
      wrongLength: /length of service parameter does not match/i,
      noSub: /sub-index does not exist/i,
      outOfRange: /invalid value|value range/i,
      state: /present device state/i,
    }
    const names = Object.keys(ABORT) as (keyof typeof ABORT)[]
    const frames = names.map((n) => abortReply(17, 0x6060, 0, ABORT[n]))
    const file = join(folder, 'aborts.pcap')
    writeFileSync(file, pcap(frames))
    const args = ['-r', file, '-d', 'can.subdissector,canopen', '-V']
    const { stdout } = spawnSync('tshark', args, { encoding: 'utf8', maxBuffer: 1 << 26 })
    const lines = stdout.split('\n').filter((l) => l.includes('Abort code'))
    expect(lines).toHaveLength(names.length)
    names.forEach((n, i) => {
      expect(lines[i]).toMatch(meanings[n])
      expect(lines[i]).toContain(`0x${ABORT[n].toString(16).padStart(8, '0')}`)
    })
  })
})
