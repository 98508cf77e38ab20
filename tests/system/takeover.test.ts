/** A process that inherits a bus's descriptor goes on with the bus when the one that opened it is gone. */
import { spawn } from 'node:child_process'
import { once } from 'node:events'
import { writeSync } from 'node:fs'
import { afterEach, describe, expect, it } from 'vitest'
import { adapterSettings, openBus, openLine } from '../../src/bus/open.js'
import { listenSlcan, SlcanPeer } from '../../src/bus/slcan-server.js'
import { VirtualTime } from '../../src/clock.js'
import { parseBusAddress } from '../../src/files/bus-address.js'
import type { BusSettings } from '../../src/files/rig.js'
import { joinedPtys, until } from '../setup/lines.js'
import { needs } from '../setup/needs.js'

const time = new VirtualTime()
const ends: (() => unknown)[] = []
afterEach(async () => {
  for (const end of ends.splice(0).reverse()) await end()
})

/** Makes ready, waits for a line on standard input, takes over, sends a frame, and repeats each frame that comes in with 1 added. */
const HEIR = `
import { prepareTakeover } from '${new URL('../../dist/bus/open.js', import.meta.url)}'
import { VirtualTime } from '${new URL('../../dist/clock.js', import.meta.url)}'
const takeOver = await prepareTakeover(JSON.parse(process.argv[1]), 3, new VirtualTime())
process.stdout.write('ready')
process.stdin.once('data', () => {
  const bus = takeOver()
  bus.onFrame((f) => bus.send({ ...f, id: f.id + 1 }))
  bus.onReport((report) => process.stderr.write(JSON.stringify(report)))
  bus.send({ id: 0x181, extended: false, remote: false, data: Uint8Array.of(2, 0) })
})
`

async function handOver(address: string, peer: () => SlcanPeer): Promise<void> {
  const settings: BusSettings = {
    index: 0,
    name: 'port-can',
    address: parseBusAddress(address)!,
    bitrate: 1e6,
    serialRate: 115_200,
    controlword: null,
    reports: null,
    owner: 'harness',
    queue: 32,
  }
  const first = await openBus(settings, time)
  ends.push(() => first.close())
  const seen: string[] = []
  const reports: string[] = []
  peer().onFrame((f) => seen.push(`${f.id.toString(16)} ${f.data.join(' ')}`))
  peer().onReport((report) => reports.push(`${report.state} ${report.trouble}`))

  const heir = spawn(process.execPath, ['--input-type=module', '-e', HEIR, JSON.stringify(settings)], {
    stdio: ['pipe', 'pipe', 'inherit', first.descriptor!],
    timeout: 60_000,
  })
  ends.push(() => heir.kill('SIGKILL'))
  await once(heir.stdout!, 'data')
  first.send({ id: 0x300, extended: false, remote: false, data: Uint8Array.of(1) })
  // Cut off in the middle of a setpoint.
  writeSync(first.descriptor!, 't20B6112233')
  first.close()
  heir.stdin!.write('now\n')
  await until(() => seen.length === 2)
  // What was half written is ended, and dropped as wrong; the channel is as it was.
  expect(seen).toEqual(['300 1', '181 2 0'])
  expect(reports).toEqual(['active garbled'])
  expect(peer().send({ id: 0x400, extended: false, remote: false, data: Uint8Array.of(7) })).toBe('sent')
  await until(() => seen.length === 3)
  expect(seen[2]).toBe('401 7')
}

describe('taking over', () => {
  it('a TCP connection', async () => {
    let peer: SlcanPeer | undefined
    const server = await listenSlcan('127.0.0.1', 0, time, (p) => {
      peer = p
    })
    ends.push(() => server.close())
    await handOver(`slcan:tcp:127.0.0.1:${server.port}`, () => peer!)
  })

  it.skipIf(!needs('socat'))('a serial port', async () => {
    const ptys = await joinedPtys()
    ends.push(() => ptys.end())
    const far = {
      name: 'adapter',
      address: parseBusAddress(`slcan:${ptys.far}`)!,
      bitrate: 1e6,
      serialRate: 115_200,
      queue: 32,
    }
    const settings = { ...far, index: 0, controlword: null, reports: null, owner: 'harness' } as const
    const peer = new SlcanPeer(await openLine(settings), adapterSettings(settings), time)
    ends.push(() => peer.close())
    await handOver(`slcan:${ptys.near}`, () => peer)
  })
})
