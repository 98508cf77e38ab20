/**
 * The stop that opens the buses itself: one bus that cannot be had, or not yet, keeps none of the others waiting. On a bus
 * nobody answers here; what drives confirm is tested in tests/unit/stop/halt.test.ts and tests/system/guardian.test.ts.
 */
import { spawn } from 'node:child_process'
import { once } from 'node:events'
import { readFileSync } from 'node:fs'
import { connect } from 'node:net'
import { afterEach, describe, expect, it } from 'vitest'
import { openBus } from '../../../src/bus/open.js'
import { listenSlcan } from '../../../src/bus/slcan-server.js'
import { RealTime } from '../../../src/clock.js'
import { loadRig } from '../../../src/files/load.js'
import { stopDirectly } from '../../../src/stop/direct.js'
import { watchSchemas } from '../files/watch-schemas.js'

const text = `${readFileSync(new URL('../files/small-rig.yaml', import.meta.url), 'utf8')}
stop: { timeout: "200 ms", sag-window: "100 ms" }
`
const ends: (() => unknown)[] = []
afterEach(async () => {
  for (const end of ends.splice(0).reverse()) await end()
})

/** What happened, in order. */
let happened: string[] = []

/** The rig's first bus is served here, and says when the quick stop has come; the second is elsewhere. */
async function rigWith(second: string) {
  happened = []
  const server = await listenSlcan('127.0.0.1', 0, new RealTime(), (peer) =>
    peer.onFrame(({ id, data }) => {
      if (id === 0x30b && data[0] === 2 && !happened.includes('quick stop')) happened.push('quick stop')
    }),
  )
  ends.push(() => server.close())
  let bus = 0
  const moved = text.replace(/address: mock/g, () =>
    bus++ === 0 ? `address: slcan:tcp:127.0.0.1:${server.port}` : `address: ${second}`,
  )
  return loadRig(moved, 'small-rig.yaml', watchSchemas)
}

/** An address on loopback that answers no connection: its process is frozen, and what it may have waiting is full. */
async function blackHole(): Promise<string> {
  const program =
    "const s = require('net').createServer().listen({ port: 0, host: '127.0.0.1', backlog: 1 }, () => console.log(s.address().port))"
  const child = spawn(process.execPath, ['-e', program], { stdio: ['ignore', 'pipe', 'inherit'] })
  ends.push(() => child.kill('SIGKILL'))
  const port = Number(await once(child.stdout!, 'data'))
  child.kill('SIGSTOP')
  // listen(2): Linux takes one more than the backlog says, and drops what comes after it.
  for (let i = 0; i < 2; i++) {
    const socket = connect(port, '127.0.0.1')
    socket.on('error', () => {})
    ends.push(() => socket.destroy())
    await once(socket, 'connect')
  }
  return `slcan:tcp:127.0.0.1:${port}`
}

const told: typeof openBus = async (settings, clock) => {
  try {
    return await openBus(settings, clock)
  } catch (error) {
    happened.push(`${settings.name} failed`)
    throw error
  }
}

describe('one bus of two', () => {
  it('that never answers: the other has its stop long before it is given up', async () => {
    const rig = await rigWith(await blackHole())
    const { drives, unreachable } = await stopDirectly(rig, new RealTime(), [0, 1], told)
    expect(happened).toEqual(['quick stop', 'can-b failed'])
    expect(unreachable).toEqual([{ bus: 'can-b', says: expect.stringContaining('no answer within 3 s') }])
    expect(drives.map((d) => [d.joint, d.off])).toEqual([
      [0, false],
      [1, false],
    ])
  })

  it('that is refused while the stop of the other is under way does not end that', async () => {
    const rig = await rigWith('slcan:tcp:127.0.0.1:1')
    const late: typeof openBus = async (settings, clock) => {
      if (settings.index === 0) return openBus(settings, clock)
      await expect.poll(() => happened, { timeout: 20_000 }).toContain('quick stop')
      throw new Error('a driver that throws')
    }
    const { drives, unreachable } = await stopDirectly(rig, new RealTime(), [0, 1], late)
    expect(unreachable).toEqual([{ bus: 'can-b', says: 'a driver that throws' }])
    expect(drives).toHaveLength(2)
  })

  it('is left alone when only the other is asked for', async () => {
    const rig = await rigWith('slcan:tcp:127.0.0.1:1')
    const { drives, unreachable } = await stopDirectly(rig, new RealTime(), [0], told)
    expect(happened).toEqual(['quick stop'])
    expect(unreachable).toEqual([])
    expect(drives.map((d) => d.joint)).toEqual([0])
  })
})

it('no bus at all: nothing was stopped, and each says why', async () => {
  const rig = loadRig(
    text.replace(/address: mock/g, 'address: slcan:tcp:127.0.0.1:1'),
    'rig.yaml',
    watchSchemas,
  )
  const { drives, unreachable } = await stopDirectly(rig, new RealTime())
  expect(drives.map((d) => [d.state, d.off, d.since])).toEqual(Array(2).fill(['unknown', false, null]))
  expect(unreachable.map((u) => u.bus)).toEqual(['can-a', 'can-b'])
  expect(unreachable[0]!.says).toContain('nothing listens there')
})
