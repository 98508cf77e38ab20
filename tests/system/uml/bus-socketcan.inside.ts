/** The SocketCAN adapter on interfaces of a real kernel: the contract, and links that go down, come back and vanish. */
import { execFileSync, spawnSync } from 'node:child_process'
import { expect, it } from 'vitest'
import { openBus } from '../../../src/bus/open.js'
import {
  type CanChannel,
  type CanMessage,
  type CanSystem,
  canSystem,
  SocketCanBus,
} from '../../../src/bus/socketcan.js'
import { VirtualTime } from '../../../src/clock.js'
import type { BusSettings } from '../../../src/files/rig.js'
import { describeBus, describeBusTrouble, type TroubledPair } from '../../contracts/bus.js'
import { until } from '../../setup/lines.js'

/** A frame of the tests' own, which both ends must have seen before all that went before has arrived. */
const MARK = { id: 0x1abcdef1, mask: 0x1fffffff }
const MARK_FILTER = { id: MARK.id + 0x80000000, mask: MARK.mask + 0x80000000 }

/** The real system, but that marks pass every filter, are counted, and go no further. */
class MarkedSystem implements CanSystem {
  readonly #system: CanSystem
  marks = 0

  constructor(system: CanSystem) {
    this.#system = system
  }

  link(name: string) {
    return this.#system.link(name)
  }

  carrier(name: string) {
    return this.#system.carrier(name)
  }

  channel(name: string): CanChannel {
    const channel = this.#system.channel(name)
    return {
      start: () => channel.start(),
      stop: () => channel.stop(),
      send: (message) => channel.send(message),
      setRxFilters: (filters) => channel.setRxFilters([...filters, MARK_FILTER]),
      addListener: ((event: 'onMessage', callback: (message: CanMessage) => void) => {
        channel.addListener(event, (message?: CanMessage) => {
          if (message?.ext && message.id === MARK.id) this.marks = message.data.readUInt32LE()
          else callback(message as CanMessage)
        })
      }) as CanChannel['addListener'],
    }
  }
}

let links = 0

async function pairOnKernel(): Promise<TroubledPair> {
  const name = `vcan${100 + links++}`
  const ip = (...args: string[]) => execFileSync('ip', ['link', ...args], { stdio: 'pipe' })
  ip('add', 'dev', name, 'type', 'vcan')
  ip('set', name, 'up')
  const time = new VirtualTime()
  const real = canSystem(name)
  const systems = [new MarkedSystem(real), new MarkedSystem(real)] as const
  const settings = { name, bitrate: 500_000, serialRate: Infinity, queue: 25 }
  const [near, far] = systems.map((system) => new SocketCanBus(name, settings, time, system)) as [
    SocketCanBus,
    SocketCanBus,
  ]
  let marks = 0
  const listening = (bus: SocketCanBus) =>
    bus.state === 'active' &&
    bus.send({ id: -1, extended: false, remote: false, data: new Uint8Array(0) }) !== 'closed'
  const settle = async () => {
    time.runUntil(time.now() + 1e9)
    if (real.link(name) !== 'up') return
    marks++
    const data = Buffer.alloc(4)
    data.writeUInt32LE(marks)
    const marker = real.channel(name)
    expect(marker.send({ id: MARK.id, ext: true, rtr: false, data })).toBeGreaterThan(0)
    await until(() => [near, far].every((bus, i) => !listening(bus) || systems[i]!.marks === marks))
  }
  return {
    near,
    far,
    queue: 25,
    settle,
    cut: async () => {
      ip('set', name, 'down')
      await until(() => [near, far].every((bus) => bus.state === 'down' || !listening(bus)))
    },
    mend: async () => {
      ip('set', name, 'up')
      await until(() => near.state === 'active' && far.state === 'active')
    },
    vanish: async () => {
      ip('delete', name)
      await until(() =>
        [near, far].every(
          (bus) =>
            bus.state === 'gone' ||
            (bus.waiting === 0 &&
              bus.send({ id: 1, extended: false, remote: false, data: new Uint8Array(0) }) === 'closed'),
        ),
      )
    },
    end: () => {
      near.close()
      far.close()
      spawnSync('ip', ['link', 'delete', name], { stdio: 'ignore' })
    },
  }
}

describeBus('socketcan on vcan', pairOnKernel)
describeBusTrouble('socketcan on vcan', pairOnKernel)

const bus = (name: string): BusSettings => ({
  index: 0,
  name: 'port-can',
  address: { kind: 'socketcan', interface: name },
  bitrate: 1e6,
  serialRate: 115_200,
  controlword: null,
  reports: null,
  owner: 'harness',
  queue: 32,
})

it.each([
  ['nocan0', 'bus port-can: nocan0: no such interface; see whether the adapter is plugged in'],
  ['lo', 'bus port-can: lo: this is no CAN interface; '],
])('does not open %s, and says why', async (name, says) => {
  await expect(openBus(bus(name), new VirtualTime())).rejects.toMatchObject({
    code: 'bus-access',
    message: expect.stringContaining(says),
  })
})

it('does not open an interface that is down, and says how it is set up', async () => {
  execFileSync('ip', ['link', 'add', 'dev', 'vcan99', 'type', 'vcan'])
  await expect(openBus(bus('vcan99'), new VirtualTime())).rejects.toThrow(
    'vcan99: the interface is down; as root: "ip link set vcan99 type can bitrate 1000000 restart-ms 100", then "ip link set vcan99 up"',
  )
  execFileSync('ip', ['link', 'delete', 'vcan99'])
})
