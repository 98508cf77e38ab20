import { MockBus } from '../../src/bus/mock.js'
import { VirtualTime } from '../../src/clock.js'
import { describeBus, describeBusTrouble } from './bus.js'

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

describeBusTrouble('mock', () => {
  const time = new VirtualTime()
  const bus = new MockBus(time, { name: 'test', bitrate: 500_000 })
  const near = bus.attach('near', { queue: 25 })
  return {
    near,
    far: bus.attach('far'),
    queue: 25,
    settle: () => time.runUntil(time.now() + 1e9),
    cut: () => near.down(),
    mend: () => near.up(),
    vanish: () => near.vanish(),
  }
})
