import { SlcanBus } from '../../src/bus/slcan.js'
import { SlcanPeer } from '../../src/bus/slcan-server.js'
import { VirtualTime } from '../../src/clock.js'
import { allThrough, type LinePair, ptyPair, tcpPair, until } from '../setup/lines.js'
import { needs } from '../setup/needs.js'
import { type BusPair, describeBus, describeBusTrouble, type TroubledPair } from './bus.js'

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

/** A line that is lost stays lost: there is no `down`, only `gone`. */
async function losing(lines: LinePair, near: 'harness' | 'adapter'): Promise<TroubledPair> {
  const pair = await slcanPair(lines, near)
  return {
    ...pair,
    vanish: async () => {
      await lines.hangUp()
      await until(() => pair.near.state === 'gone' || lines.near.ended)
    },
  }
}

describeBusTrouble('slcan over TCP', async () => losing(await tcpPair(), 'harness'), 'gone')

if (needs('socat')) {
  describeBusTrouble('slcan over a pseudo-terminal', async () => losing(await ptyPair(), 'harness'), 'gone')
  describeBus('slcan over a pseudo-terminal', async () => slcanPair(await ptyPair(), 'harness'))
  describeBus('slcan over a pseudo-terminal, from the adapter to the harness', async () =>
    slcanPair(await ptyPair(), 'adapter'),
  )
}
