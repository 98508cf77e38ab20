/**
 * A stop leaves at once when all four threads of libuv's pool are busy for good and the transmit queue is full. In a process of its own,
 * because its pool is of no use afterwards.
 */
import { execFileSync, spawn } from 'node:child_process'
import { join } from 'node:path'
import { text } from 'node:stream/consumers'
import { afterEach, describe, expect, it } from 'vitest'
import { adapterSettings, openLine } from '../../src/bus/open.js'
import { listenSlcan, SlcanPeer } from '../../src/bus/slcan-server.js'
import { VirtualTime } from '../../src/clock.js'
import { parseBusAddress } from '../../src/files/bus-address.js'
import type { BusSettings } from '../../src/files/rig.js'
import { joinedPtys, until } from '../setup/lines.js'
import { needs } from '../setup/needs.js'
import { temporaryFolder } from '../setup/runs.js'

const time = new VirtualTime()
const folder = temporaryFolder()
const ends: (() => unknown)[] = []
afterEach(async () => {
  for (const end of ends.splice(0).reverse()) await end()
})

const settingsOf = (address: string): BusSettings => ({
  index: 0,
  name: 'port-can',
  address: parseBusAddress(address)!,
  bitrate: 1e6,
  serialRate: 115_200,
  controlword: null,
  reports: null,
  owner: 'harness',
  queue: 16,
})

/**
 * Opens the bus, blocks the pool, and proves it: a read of a file that any thread would do stays undone. Then it fills the
 * queue, stops, and waits for the answer; it never gives control to the loop between the first setpoint and the stop.
 */
const BENCH = `
import { open, readFile } from 'node:fs'
import { openBus } from '${new URL('../../dist/bus/open.js', import.meta.url)}'
import { VirtualTime } from '${new URL('../../dist/clock.js', import.meta.url)}'
const [settings, fifo] = process.argv.slice(1)
const bus = await openBus(JSON.parse(settings), new VirtualTime())
for (let n = 0; n < 4; n++) open(fifo, 'r', () => {}) // waits for a writer that never comes
let poolWorks = false
readFile(process.execPath, () => { poolWorks = true })
const frame = (id, ...data) => ({ id, extended: false, remote: false, data: Uint8Array.from(data) })
let handed = 0
bus.onFrame((f) => {
  // The answer has come: the stop went out and feedback comes in, with the pool blocked as ever.
  process.stdout.write(JSON.stringify({ handed, poolWorks, heard: f.id }))
  process.exitCode = 0
  process.kill(process.pid, 'SIGKILL') // a blocked pool cannot be ended in peace
})
setImmediate(() => {
  while (bus.send(frame(0x20b, handed)) === 'sent') handed++
  bus.withdraw()
  bus.send(frame(0x181, 2, 0))
})
`

async function stops(address: string, peer: () => SlcanPeer): Promise<void> {
  const fifo = join(folder, 'fifo')
  execFileSync('rm', ['-f', fifo])
  execFileSync('mkfifo', [fifo])
  const child = spawn(
    process.execPath,
    ['--input-type=module', '-e', BENCH, JSON.stringify(settingsOf(address)), fifo],
    {
      stdio: ['ignore', 'pipe', 'inherit'],
      env: { ...process.env, UV_THREADPOOL_SIZE: '4' },
      timeout: 60_000,
      killSignal: 'SIGKILL',
    },
  )
  ends.push(() => child.kill('SIGKILL'))
  const seen: number[] = []
  let listening: SlcanPeer | undefined
  const said = text(child.stdout!)
  await until(() => {
    if (listening !== peer()) {
      listening = peer()
      listening?.onFrame((f) => {
        seen.push(f.id)
        if (f.id === 0x181)
          listening!.send({ id: 0x18b, extended: false, remote: false, data: new Uint8Array(8) })
      })
    }
    return seen.includes(0x181) || child.exitCode !== null
  })
  const { handed, poolWorks, heard } = JSON.parse(await said)
  expect({ poolWorks, heard }).toEqual({ poolWorks: false, heard: 0x18b })
  // Full: the clock of that process stands still, so nothing has left the queue by its reckoning.
  expect(handed).toBe(16)
  expect(seen).toEqual([...Array(16).fill(0x20b), 0x181])
}

describe('with the pool blocked and the queue full, a stop leaves at once', () => {
  it('over TCP', async () => {
    let peer: SlcanPeer | undefined
    const server = await listenSlcan('127.0.0.1', 0, time, (p) => {
      peer = p
    })
    ends.push(() => server.close())
    await stops(`slcan:tcp:127.0.0.1:${server.port}`, () => peer!)
  })

  it.skipIf(!needs('socat'))('over a serial port', async () => {
    const ptys = await joinedPtys()
    ends.push(() => ptys.end())
    const far = settingsOf(`slcan:${ptys.far}`)
    const peer = new SlcanPeer(await openLine(far), adapterSettings(far), time)
    ends.push(() => peer.close())
    await stops(`slcan:${ptys.near}`, () => peer)
  })
})
