/** Opening buses and what it is refused for, over real sockets and pseudo-terminals. */
import { once } from 'node:events'
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { type AddressInfo, connect, createServer, type Server, type Socket } from 'node:net'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterEach, describe, expect, it, test } from 'vitest'
import type { Adapter } from '../../../src/bus/adapter.js'
import { adapterSettings, openBus, openLine } from '../../../src/bus/open.js'
import { listenSlcan, SlcanPeer, type SlcanServer } from '../../../src/bus/slcan-server.js'
import { VirtualTime } from '../../../src/clock.js'
import { parseBusAddress } from '../../../src/files/bus-address.js'
import type { BusSettings } from '../../../src/files/rig.js'
import { frame } from '../../../src/wire/frame.js'
import { joinedPtys, until } from '../../setup/lines.js'
import { needs } from '../../setup/needs.js'

const time = new VirtualTime()
const ends: (() => unknown)[] = []
afterEach(async () => {
  for (const end of ends.splice(0).reverse()) await end()
})

const bus = (address: string, more: Partial<BusSettings> = {}): BusSettings => ({
  index: 0,
  name: 'port-can',
  address: parseBusAddress(address)!,
  bitrate: 1e6,
  serialRate: 115_200,
  controlword: null,
  reports: null,
  owner: 'harness',
  queue: 32,
  ...more,
})

async function served(): Promise<{
  server: SlcanServer
  peers: SlcanPeer[]
  away: string[]
  address: string
}> {
  const peers: SlcanPeer[] = []
  const away: string[] = []
  const server = await listenSlcan('127.0.0.1', 0, time, (p) => peers.push(p), {
    onTurnedAway: (c) => away.push(c),
  })
  ends.push(() => server.close())
  return { server, peers, away, address: `slcan:tcp:127.0.0.1:${server.port}` }
}

/** An adapter that answers as it is told: gets what came in since its last answer, and answers it. */
async function adapter(
  answer: (text: string, socket: Socket) => string,
): Promise<{ address: string; heard: () => string }> {
  let heard = ''
  const server: Server = createServer((socket) => {
    socket.on('error', () => {})
    socket.on('data', (bytes) => {
      heard += bytes.toString('latin1')
      const text = answer(bytes.toString('latin1'), socket)
      if (text !== '') socket.write(text)
    })
    ends.push(() => socket.destroy())
  })
  server.listen(0, '127.0.0.1')
  await once(server, 'listening')
  ends.push(() => server.close())
  return { address: `slcan:tcp:127.0.0.1:${(server.address() as AddressInfo).port}`, heard: () => heard }
}

async function opened(settings: BusSettings): Promise<Adapter> {
  const adapter = await openBus(settings, time)
  ends.push(() => adapter.close())
  return adapter
}

describe('the opening words', () => {
  it('end a half line, close the channel, set the bit rate, open it', async () => {
    const { address, heard } = await adapter((text) => '\r'.repeat(text.split('\r').length - 1))
    const open = await opened(bus(address, { bitrate: 500_000 }))
    expect(heard()).toBe('\r\rC\rS6\rO\r')
    expect(open.state).toBe('active')
  })

  it('are good enough for an adapter that never answers', async () => {
    const { address, heard } = await adapter(() => '')
    await opened(bus(address))
    expect(heard()).toBe('\r\rC\rS8\rO\r')
  })

  it('are not put off by a bell for closing what was not open, however late, nor by frames of an earlier opening', async () => {
    let first = true
    const { address } = await adapter((text) => {
      if (text.includes('C')) return 't1230\r\x07'
      if (text.startsWith('S') && first) {
        first = false
        return '\x07\r' // the late answer to C, then the one to S
      }
      return '\r'
    })
    const open = await opened(bus(address))
    expect(open.state).toBe('active')
  })

  it('are refused by an adapter that does not do the bit rate', async () => {
    const { address } = await adapter((text) => (text.startsWith('S') ? '\x07' : '\r'))
    await expect(opened(bus(address))).rejects.toMatchObject({
      code: 'bus-access',
      message: expect.stringMatching(
        /^bus port-can: 127\.0\.0\.1:\d+: the adapter refused its bit rate \(S8\); /,
      ),
    })
  })

  it('are not even said at a bit rate that there is no word for', async () => {
    const { address, heard } = await adapter(() => '\r')
    await expect(opened(bus(address, { bitrate: 83_333 }))).rejects.toThrow(
      /no word for 83.333 kbit\/s; it can be one of 10, 20, 50, 100, 125, 250, 500, 800, 1000 kbit\/s/,
    )
    expect(heard()).toBe('')
  })

  it('end when the other side hangs up in the middle', async () => {
    const { address } = await adapter((text, socket) => {
      if (text.includes('S')) socket.destroy()
      return text.includes('S') ? '' : '\r'
    })
    await expect(opened(bus(address))).rejects.toThrow(/the line was lost while it was opened/)
  })
})

describe('the adapter that we play', () => {
  it('answers as one, and drops frames while its channel is closed', async () => {
    const { server, peers } = await served()
    const socket = connect(server.port, '127.0.0.1')
    ends.push(() => socket.destroy())
    let heard = ''
    socket.on('data', (bytes) => {
      heard += bytes.toString('latin1')
    })
    const says = async (text: string, answer: string) => {
      heard = ''
      socket.write(text)
      await until(() => heard.length >= answer.length)
      expect(heard, text).toBe(answer)
    }
    await says('V\r', 'V0101\r')
    await says('N\r', 'N0001\r')
    await says('F\r', '\x07')
    await says('t1230\r', '\x07')
    const seen: number[] = []
    peers[0]!.onFrame((f) => seen.push(f.id))
    expect(peers[0]!.send(frame(1, new Uint8Array(0)))).toBe('down')
    await says('S8\rS9\rX1\rZ0\rZ1\rs1234\r', '\r\x07\r\r\x07\x07')
    await says('O\rO\rF\rS8\r', '\r\x07F00\r\x07')
    expect(peers[0]!.send(frame(0x321, Uint8Array.of(0xab)))).toBe('sent')
    await says('t1231FF\rr4560\rnonsense\rV\r', 't3211AB\r\x07V0101\r')
    expect(seen).toEqual([0x123, 0x456])
    await says('C\rC\rt1230\rL\rt1230\rV\r', '\r\r\x07\r\x07V0101\r')
    expect(seen).toEqual([0x123, 0x456])
  })

  it('turns a second client away, and serves the next one when the first is gone', async () => {
    const { address, peers, away } = await served()
    const first = await opened(bus(address))
    await expect(opened(bus(address))).rejects.toThrow(/see whether another program is connected/)
    expect(away).toHaveLength(1)
    expect(peers).toHaveLength(1)
    first.close()
    await until(() => peers[0]!.state === 'gone')
    const next = await opened(bus(address))
    const seen: number[] = []
    peers[1]!.onFrame((f) => seen.push(f.id))
    next.send(frame(0x77, new Uint8Array(0)))
    await until(() => seen.length > 0)
    expect(seen).toEqual([0x77])
    expect(peers).toHaveLength(2)
  })

  it('says so when its port is taken', async () => {
    const { server } = await served()
    await expect(listenSlcan('127.0.0.1', server.port, time, () => {})).rejects.toMatchObject({
      code: 'bus-access',
      message: expect.stringContaining('something listens there already'),
    })
  })
})

describe('nothing to open', () => {
  it('nobody listens', async () => {
    const { server, address } = await served()
    await server.close()
    await expect(opened(bus(address))).rejects.toMatchObject({
      code: 'bus-access',
      exitStatus: 2,
      context: { bus: 'port-can' },
      message: expect.stringMatching(
        /^bus port-can: 127\.0\.0\.1:\d+: nothing listens there; start .*drystroke stand-in/,
      ),
    })
  })

  test.each([
    ['no device', () => 'missing', 'no such device; see whether the adapter is plugged in'],
    [
      'a file',
      (folder: string) => {
        writeFileSync(join(folder, 'file'), '')
        return 'file'
      },
      'this is no serial port',
    ],
    ['a folder', () => '.', 'this is no serial port'],
  ])('%s', async (_, make, says) => {
    const folder = mkdtempSync(join(tmpdir(), 'drystroke-open-'))
    ends.push(() => rmSync(folder, { recursive: true }))
    await expect(opened(bus(`slcan:${join(folder, make(folder))}`))).rejects.toMatchObject({
      code: 'bus-access',
      message: expect.stringContaining(says),
    })
  })
})

describe.skipIf(!needs('socat'))('a serial port', () => {
  async function ptys() {
    const pair = await joinedPtys()
    ends.push(() => pair.end())
    return pair
  }

  it('opens behind a link, and once only', async () => {
    const { near, far } = await ptys()
    const line = await openLine(bus(`slcan:${far}`))
    const peer = new SlcanPeer(line, adapterSettings(bus(`slcan:${far}`)), time)
    ends.push(() => peer.close())
    const open = await opened(bus(`slcan:${near}`))
    expect(open.descriptor).toBeGreaterThan(2)
    await expect(opened(bus(`slcan:${near}`))).rejects.toThrow(
      /cannot be opened at 115200 bit\/s .* see whether another program has it/,
    )
  })
})
