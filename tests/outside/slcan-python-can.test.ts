/** Debian's python3-can as the program on the other side of our adapter's text: it is an implementation of its own. */
import { spawn } from 'node:child_process'
import { text } from 'node:stream/consumers'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import { adapterSettings, openLine } from '../../src/bus/open.js'
import { SlcanPeer } from '../../src/bus/slcan-server.js'
import { VirtualTime } from '../../src/clock.js'
import { parseBusAddress } from '../../src/files/bus-address.js'
import type { BusSettings } from '../../src/files/rig.js'
import type { Frame } from '../../src/wire/frame.js'
import { joinedPtys } from '../setup/lines.js'
import { needs } from '../setup/needs.js'

/** Asks for the version, then sends each frame back that it hears, its identifier less by one, until one has identifier 0. */
const PROGRAM = `
import sys, can
bus = can.Bus(interface='slcan', channel=sys.argv[1], bitrate=500000, sleep_after_open=0)
print(bus.get_version(10), flush=True)
while True:
    m = bus.recv(20)
    if m is None: sys.exit('heard nothing')
    print(hex(m.arbitration_id), m.is_extended_id, m.is_remote_frame, m.dlc, bytes(m.data).hex(), flush=True)
    if m.arbitration_id == 0: break
    m.arbitration_id -= 1
    bus.send(m)
bus.shutdown()
`

const FRAMES: Frame[] = [
  { id: 0x7ff, extended: false, remote: false, data: Uint8Array.of(1, 0xab, 3, 4, 5, 6, 7, 0xff) },
  { id: 0x123, extended: false, remote: false, data: new Uint8Array(0) },
  { id: 0x1fffffff, extended: true, remote: false, data: Uint8Array.of(0xde, 0xad) },
  { id: 0x321, extended: false, remote: true, data: new Uint8Array(5) },
  { id: 0x12abcdef, extended: true, remote: true, data: new Uint8Array(0) },
]

describe.skipIf(!needs('python3-can', 'python3-serial', 'socat'))('python3-can on our adapter', () => {
  const seen: Frame[] = []
  const states: string[] = []
  let said = ''
  let problems = ''

  beforeAll(async () => {
    const time = new VirtualTime()
    const ptys = await joinedPtys()
    const settings: BusSettings = {
      index: 0,
      name: 'adapter',
      address: parseBusAddress(`slcan:${ptys.far}`)!,
      bitrate: 500_000,
      serialRate: 115_200,
      controlword: null,
      reports: null,
      owner: 'harness',
      queue: 32,
    }
    const peer = new SlcanPeer(await openLine(settings), adapterSettings(settings), time)
    peer.onFrame((f) => {
      seen.push(f)
      next()
    })
    const waiting = [...FRAMES, { id: 0, extended: false, remote: false, data: new Uint8Array(0) }]
    const next = () => peer.send(waiting.shift()!)
    peer.onReport((r) => {
      states.push(r.state)
      if (r.trouble) problems += `${r.says}\n`
    })
    const python = spawn('/usr/bin/python3', ['-c', PROGRAM, ptys.near], {
      stdio: ['ignore', 'pipe', 'pipe'],
      timeout: 60_000,
    })
    const errors = text(python.stderr)
    for await (const piece of python.stdout) {
      // The version comes when the channel is open for good.
      if (said === '') next()
      said += piece
    }
    problems += await errors
    peer.close()
    await ptys.end()
  })

  afterAll(() => {
    if (problems !== '') console.log(problems)
  })

  it('reads its version, and every kind of frame as it was sent', () => {
    expect(said.slice(0, -1).split('\n')).toEqual([
      '(1, 1)',
      '0x7ff False False 8 01ab0304050607ff',
      '0x123 False False 0 ',
      '0x1fffffff True False 2 dead',
      '0x321 False True 5 ',
      '0x12abcdef True True 0 ',
      '0x0 False False 0 ',
    ])
  })

  it('is read as it writes', () => {
    expect(seen).toEqual(FRAMES.map((f) => ({ ...f, id: f.id - 1 })))
  })

  it('opens and closes the channel', () => {
    expect([states.at(0), states.at(-1)]).toEqual(['active', 'down'])
  })
})
