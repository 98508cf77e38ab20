/**
 * The guardian as it is, on arms whose stop frame has a rolling counter: it goes on where the bench process had counted to when
 * that was killed. Nobody answers on the buses here: what counts is the first frames that come in.
 */
import { spawn } from 'node:child_process'
import { afterEach, expect, it } from 'vitest'
import { listenSlcan } from '../../src/bus/slcan-server.js'
import { VirtualTime } from '../../src/clock.js'
import { change, FRAMES_RIG } from '../setup/runs.js'

const ends: (() => unknown)[] = []
afterEach(async () => {
  for (const end of ends.splice(0).reverse()) await end()
})

/** Opens the buses, starts a guardian, tells it twice how far it has counted, and is killed in the act. */
const BENCH = `
import { openBus } from '${new URL('../../dist/bus/open.js', import.meta.url)}'
import { RealTime } from '${new URL('../../dist/clock.js', import.meta.url)}'
import { loadRig } from '${new URL('../../dist/files/load.js', import.meta.url)}'
import { startGuardian } from '${new URL('../../dist/stop/guardian/start.js', import.meta.url)}'
import { watchSchemas } from '${new URL('../../dist/watch/settings.js', import.meta.url)}'
const rig = loadRig(process.argv[1], 'rig.yaml', watchSchemas)
const clock = new RealTime()
const buses = await Promise.all(rig.buses.map((settings) => openBus(settings, clock)))
const guardian = await startGuardian({ rig, buses, clock, folder: null, onStopAsked() {}, onLost() {} })
guardian.beat([[], [[0x11, 4], [0x21, 4]]])
guardian.beat([[], [[0x11, 7], [0x21, 4]]])
guardian.beat([[], [[0x11, 7], [0x21, 4]]])
process.kill(process.pid, 'SIGKILL')
`

it('goes on with the numbers of the last beat', async () => {
  const numbers = new Map<number, number[]>()
  const enough = new Promise<void>((resolve) => {
    ends.push(resolve)
    serve = (id, number) => {
      numbers.set(id, [...(numbers.get(id) ?? []), number])
      if ((numbers.get(0x11)?.length ?? 0) >= 3 && (numbers.get(0x31)?.length ?? 0) >= 3) resolve()
    }
  })
  const addresses: string[] = []
  for (let bus = 0; bus < 2; bus++) {
    const server = await listenSlcan('127.0.0.1', 0, new VirtualTime(), (peer) =>
      peer.onFrame((f) => {
        if (f.data.length === 1 && f.id % 16 === 1) serve(f.id, f.data[0]!)
      }),
    )
    ends.push(() => server.close())
    addresses.push(`address: slcan:tcp:127.0.0.1:${server.port}`)
  }
  const counting = change(
    FRAMES_RIG,
    'stop: { id: "0x001 + 16 x node", bytes: 0 }',
    'stop: { id: "0x001 + 16 x node", bytes: 1, signals: [{ is: counter, byte: 0, length: 4 }] }',
  )
  const rig = addresses.reduce((text, address) => change(text, 'address: mock', address), counting)
  const child = spawn(process.execPath, ['--input-type=module', '-e', BENCH, rig], {
    stdio: ['ignore', 'inherit', 'inherit'],
  })
  ends.push(() => child.kill('SIGKILL'))
  await enough
  expect(numbers.get(0x11)!.slice(0, 3)).toEqual([8, 9, 10])
  expect(numbers.get(0x21)!.slice(0, 3)).toEqual([5, 6, 7])
  expect(numbers.get(0x31)!.slice(0, 3)).toEqual([1, 2, 3])
})

let serve: (id: number, number: number) => void = () => {}
