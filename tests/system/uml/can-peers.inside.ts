/** The SocketCAN adapter on a kernel's bus with independent peers: can-utils and python3-can. */
import { afterAll, beforeAll, beforeEach, describe, expect, it } from 'vitest'
import type { Bus } from '../../../src/bus/contract.js'
import { openBus } from '../../../src/bus/open.js'
import { VirtualTime } from '../../../src/clock.js'
import type { BusSettings } from '../../../src/files/rig.js'
import type { Frame } from '../../../src/wire/frame.js'
import { until } from '../../setup/lines.js'
import { everyKind, words } from './frames.js'
import { Candump, canplayer, python, pythonSends, run } from './peers.js'

const SETTINGS: BusSettings = {
  index: 0,
  name: 'port-can',
  address: { kind: 'socketcan', interface: 'vcan0' },
  bitrate: 500_000,
  serialRate: 115_200,
  controlword: null,
  reports: null,
  owner: 'harness',
  queue: 1000,
}

describe('independent peers', () => {
  let bus: Bus
  let seen: Frame[]
  beforeAll(async () => {
    bus = await openBus(SETTINGS, new VirtualTime())
    bus.onFrame((f) => seen.push(f))
  })
  afterAll(() => bus.close())
  beforeEach(() => {
    seen = []
  })

  const frames = everyKind()

  it('candump and python3-can see exactly what we send', async () => {
    const candump = await Candump.on('vcan0')
    const rows = await python(
      'vcan0',
      `rows = []
for n in range(${frames.length}):
    m = bus.recv(30)
    rows.append([m.arbitration_id, m.is_extended_id, m.is_remote_frame, m.dlc, m.data.hex()])
print(json.dumps(rows))`,
      () => {
        for (const f of frames) expect(bus.send(f)).toBe('sent')
      },
    )
    expect(await candump.seen(frames.length)).toEqual(words(frames))
    await candump.end()
    expect(rows).toEqual(
      frames.map(({ id, extended, remote, data }) => [
        id,
        extended,
        remote,
        data.length,
        remote ? '' : Buffer.from(data).toString('hex'),
      ]),
    )
    expect(seen).toEqual([])
  })

  it('we receive exactly what python3-can, cansend and canplayer send', async () => {
    await python('vcan0', pythonSends(frames))
    await until(() => seen.length >= frames.length)
    expect(words(seen)).toEqual(words(frames))

    seen = []
    run('cansend', 'vcan0', '1F334455#1122334455667788')
    run('cansend', 'vcan0', '123#R')
    canplayer('vcan0', frames)
    await until(() => seen.length >= frames.length + 2)
    expect(words(seen)).toEqual(['1F334455#1122334455667788', '123#R', ...words(frames)])
  })
})
