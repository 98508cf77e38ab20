import { SlcanBus } from '../../src/bus/slcan.js'
import { SlcanPeer } from '../../src/bus/slcan-server.js'
import { VirtualTime } from '../../src/clock.js'
import { allThrough, type LinePair, ptyPair, tcpPair } from '../setup/lines.js'
import { needs } from '../setup/needs.js'
import { type BusPair, describeBus } from './bus.js'

/** The bus stands still in time until it is told to settle, so that what waits can be counted. */
async function slcanPair(lines: LinePair, near: 'harness' | 'adapter'): Promise<BusPair> {
  const time = new VirtualTime()
  const settings = { name: near, bitrate: 500_000, serialRate: 115_200, queue: 25 }
  const peer = new SlcanPeer(lines.far, { ...settings, name: 'adapter' }, time)
  const bus = await SlcanBus.open(lines.near, settings, time)
  return {
    near: near === 'harness' ? bus : peer,
    far: near === 'harness' ? peer : bus,
    queue: 25,
    settle: async () => {
      await allThrough(lines)
      time.runUntil(time.now() + 1e9)
    },
    end: () => {
      bus.close()
      peer.close()
      return lines.end()
    },
  }
}

describeBus('slcan over TCP', async () => slcanPair(await tcpPair(), 'harness'))
describeBus('slcan over TCP, from the adapter to the harness', async () =>
  slcanPair(await tcpPair(), 'adapter'),
)

if (needs('socat')) {
  describeBus('slcan over a pseudo-terminal', async () => slcanPair(await ptyPair(), 'harness'))
  describeBus('slcan over a pseudo-terminal, from the adapter to the harness', async () =>
    slcanPair(await ptyPair(), 'adapter'),
  )
}
