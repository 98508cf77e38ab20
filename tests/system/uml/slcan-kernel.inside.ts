/** Both of our ends of an slcan line against the Linux kernel's own driver for serial adapters. */
import { spawn, spawnSync } from 'node:child_process'
import { once } from 'node:events'
import { realpathSync } from 'node:fs'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import type { Bus } from '../../../src/bus/contract.js'
import { openSerial } from '../../../src/bus/serial.js'
import { SlcanBus } from '../../../src/bus/slcan.js'
import { SlcanPeer } from '../../../src/bus/slcan-server.js'
import { VirtualTime } from '../../../src/clock.js'
import type { Frame } from '../../../src/wire/frame.js'
import { joinedPtys, until } from '../../setup/lines.js'
import { everyKind, words } from './frames.js'
import { Candump, canplayer, python, run } from './peers.js'

interface Joined {
  readonly bus: Bus
  end(): Promise<void>
}

/** slcand on one end of a pair of pseudo-terminals, one of our ends on the other. */
async function joined(ours: 'harness' | 'adapter'): Promise<Joined> {
  const ptys = await joinedPtys()
  const line = await openSerial(ptys.near, 115_200)
  const settings = { name: ours, bitrate: 1e6, serialRate: Number.POSITIVE_INFINITY, queue: 2000 }
  const time = new VirtualTime()
  // The adapter must be there when slcand opens its channel; the harness opens a channel of its own.
  const peer = ours === 'adapter' ? new SlcanPeer(line, settings, time) : null
  const slcand = spawn(
    'slcand',
    ['-F', '-o', '-c', '-s8', '-S', '115200', realpathSync(ptys.far), 'slcan0'],
    { stdio: ['ignore', 'ignore', 'inherit'] },
  )
  const gone = once(slcand, 'exit')
  await until(() => spawnSync('ip', ['link', 'show', 'slcan0']).status === 0)
  run('ip', 'link', 'set', 'slcan0', 'txqueuelen', '1000')
  run('ip', 'link', 'set', 'slcan0', 'up')
  const bus = peer ?? (await SlcanBus.open(line, settings, time))
  if (peer) await until(() => peer.state === 'active')
  return {
    bus,
    end: async () => {
      bus.close()
      slcand.kill()
      await gone
      await ptys.end()
      await until(() => spawnSync('ip', ['link', 'show', 'slcan0']).status !== 0)
    },
  }
}

describe.each(['harness', 'adapter'] as const)("the kernel's slcan driver and our %s's end", (ours) => {
  let pair: Joined
  beforeAll(async () => {
    pair = await joined(ours)
  })
  afterAll(() => pair.end())

  it('candump on the interface sees exactly what we send', async () => {
    const frames = everyKind()
    const candump = await Candump.on('slcan0')
    for (const f of frames) expect(pair.bus.send(f)).toBe('sent')
    expect(await candump.seen(frames.length)).toEqual(words(frames))
    await candump.end()
  })

  it('we receive exactly what cansend and canplayer send', async () => {
    const seen: Frame[] = []
    pair.bus.onFrame((f) => seen.push(f))
    const frames = everyKind()
    run('cansend', 'slcan0', '1F334455#1122334455667788')
    run('cansend', 'slcan0', '123#R')
    canplayer('slcan0', frames)
    await until(() => seen.length === frames.length + 2)
    expect(words(seen)).toEqual(['1F334455#1122334455667788', '123#R', ...words(frames)])
  })
})

/** The kernel gives a new slcan interface a transmit queue of 10; what does not fit is refused, and the sender must look. */
it("bursts of 200 frames through the kernel's driver: whole with a long queue, refused in part with the one it starts with", async () => {
  const { bus, end } = await joined('adapter')
  const seen: number[] = []
  bus.onFrame((f) => seen.push(f.data[0]!))
  const refused = (await python(
    'slcan0',
    `import socket, subprocess, time
# python3-can gives a frame up when half of the socket's own buffer is full, which some 120 frames do: the queue is to be what refuses.
SO_SNDBUFFORCE = 32
bus.socket.setsockopt(socket.SOL_SOCKET, SO_SNDBUFFORCE, 1 << 20)
def burst():
    refused = []
    for n in range(200):
        try:
            bus.send(can.Message(arbitration_id=0x123, is_extended_id=False, data=[n]))
        except can.CanError:
            refused.append(n)
    return refused
def queue(length):
    subprocess.run(['ip', 'link', 'set', 'slcan0', 'txqueuelen', str(length)], check=True)
def sent():
    return int(open('/sys/class/net/slcan0/statistics/tx_packets').read())
long = burst()
while sent() < 200 - len(long): # a queue that is shortened drops what it holds
    time.sleep(0.01)
queue(10)
short = burst()
queue(1000)
bus.send(can.Message(arbitration_id=0x123, is_extended_id=False, data=[254]))
print(json.dumps([long, short]))`,
  )) as [number[], number[]]
  await until(() => seen.at(-1) === 254)
  const taken = (burst: 0 | 1): number[] =>
    Array.from({ length: 200 }, (_, n) => n).filter((n) => !refused[burst].includes(n))
  expect(refused[0]).toEqual([])
  expect(refused[1].length).toBeGreaterThan(0)
  expect(seen.filter((n) => n < 254)).toEqual([...taken(0), ...taken(1)])
  await end()
})
