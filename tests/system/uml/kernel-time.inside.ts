/** When frames came: the SocketCAN adapter's times beside candump's, which are the kernel's. */
import { describe, expect, it } from 'vitest'
import { openBus } from '../../../src/bus/open.js'
import { RealTime } from '../../../src/clock.js'
import { frame } from '../../../src/wire/frame.js'
import { until } from '../../setup/lines.js'
import { Candump, run } from './peers.js'

const FRAMES = 8
/** us: what comparing the two clocks, once, may be off by while others have the processor */
const APART = 1000

describe('times of received frames', () => {
  it('are the kernel’s, also of frames that this process could not take for a while', async () => {
    const bus = await openBus(
      {
        index: 0,
        name: 'port-can',
        address: { kind: 'socketcan', interface: 'vcan0' },
        bitrate: 500_000,
        serialRate: 115_200,
        controlword: null,
        reports: null,
        owner: 'harness',
        queue: 1000,
      },
      new RealTime(),
    )
    const candump = await Candump.on('vcan0')
    try {
      const times: number[] = []
      bus.onFrame((_, t) => times.push(t / 1000))
      expect(bus.send(frame(0x80, new Uint8Array(0)))).toBe('sent')
      run('cansend', 'vcan0', '700#00')
      await until(() => times.length === 1)
      // This process waits for each of these programs, and hears none of their frames before the last one has ended.
      for (let n = 1; n < FRAMES; n++) run('cansend', 'vcan0', `70${n}#00`)
      expect(times).toHaveLength(1)
      await until(() => times.length === FRAMES)
      await candump.seen(FRAMES + 1)
      const kernel = candump.times.slice(1)
      const since = (list: readonly number[]): number[] => list.map((t) => t - list[1]!)
      expect(since(kernel).at(-1)).toBeGreaterThan(3 * APART)
      const apart = since(times).map((t, i) => Math.abs(t - since(kernel)[i]!))
      // The first was sent before the kernel had been asked for stamps.
      expect(Math.max(...apart.slice(1)), `${times} and ${kernel}`).toBeLessThan(APART)
    } finally {
      bus.close()
      await candump.end()
    }
  })
})
