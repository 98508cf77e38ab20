import { MockBus } from '../../src/bus/mock.js'
import { VirtualTime } from '../../src/clock.js'
import { describeBus } from './bus.js'

describeBus('mock', () => {
  const time = new VirtualTime()
  const bus = new MockBus(time, { name: 'test', bitrate: 500_000 })
  return {
    near: bus.attach('near', { queue: 25 }),
    far: bus.attach('far'),
    queue: 25,
    settle: () => time.runUntil(time.now() + 1e9),
  }
})
