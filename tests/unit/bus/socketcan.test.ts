/**
 * The SocketCAN adapter on a fake of the npm package's channel. The fake does what was measured of the package: -1 without a reason,
 * own frames not heard, its reading ends with the link, an empty filter list changes nothing, `stop` throws when it has stopped.
 * Left out: the kernel. tests/system/uml has the real thing.
 */
import { mkdirSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterEach, beforeEach, describe, expect, it, test } from 'vitest'
import { type CanLink, canCarrier, canLink } from '../../../src/bus/can-link.js'
import type { BusReport } from '../../../src/bus/contract.js'
import type { WallStamp } from '../../../src/bus/kernel-time.js'
import {
  type CanChannel,
  type CanMessage,
  type CanSystem,
  canSystem,
  SocketCanBus,
} from '../../../src/bus/socketcan.js'
import { VirtualTime } from '../../../src/clock.js'
import { frame } from '../../../src/wire/frame.js'
import { until } from '../../setup/lines.js'

interface Sent {
  id: number
  ext: boolean
  rtr: boolean
  data: number[]
}

class FakeChannel implements CanChannel {
  running = false
  filters: readonly { id: number; mask: number; invert?: boolean }[] = [{ id: 0, mask: 0 }]
  readonly #system: FakeSystem
  #message: (message: CanMessage) => void = () => {}
  #stopped: () => void = () => {}

  constructor(system: FakeSystem) {
    this.#system = system
  }

  addListener(event: 'onMessage' | 'onStopped', callback: (message: CanMessage) => void): void {
    if (event === 'onMessage') this.#message = callback
    else this.#stopped = callback as () => void
  }

  start(): void {
    this.running = true
  }

  stop(): void {
    if (!this.running) throw new Error('Channel not started')
    this.linkDown()
  }

  send(message: Parameters<CanChannel['send']>[0]): number {
    const { id, ext, rtr, data } = message
    if (this.#system.state !== 'up' || this.#system.offBus || this.#system.full) return -1
    Object.assign(message, this.#system.wall())
    this.#system.sent.push({ id, ext, rtr, data: [...data] })
    return 16
  }

  setRxFilters(filters: readonly { id: number; mask: number; invert?: boolean }[]): void {
    if (filters.length > 0) this.filters = filters
  }

  linkDown(): void {
    this.running = false
    this.#stopped()
  }

  hear(message: CanMessage): void {
    if (this.running) this.#message(message)
  }
}

class FakeSystem implements CanSystem {
  state: CanLink = 'up'
  full = false
  offBus = false
  readonly sent: Sent[] = []
  /** As the package stamps. */
  wall = (): WallStamp => ({})
  readonly channels: FakeChannel[] = []

  link(): CanLink {
    return this.state
  }

  carrier(): boolean {
    return !this.offBus
  }

  channel(): FakeChannel {
    if (this.state === 'missing') throw new Error('Error while creating channel')
    const channel = new FakeChannel(this)
    this.channels.push(channel)
    return channel
  }

  get last(): FakeChannel {
    return this.channels.at(-1)!
  }

  down(state: CanLink): void {
    this.state = state
    this.last.linkDown()
  }
}

const settings = { name: 'port-can', bitrate: 1e6, serialRate: Infinity, queue: 4 }
const error = (id: number, ...data: number[]): CanMessage => ({
  id,
  err: true,
  data: Buffer.from([...data, ...Array(8)].slice(0, 8)),
})

let time: VirtualTime
let system: FakeSystem
let bus: SocketCanBus
let reports: BusReport[]

function open(): void {
  bus = new SocketCanBus('can0', settings, time, system)
  bus.onReport((r) => reports.push(r))
}

beforeEach(() => {
  time = new VirtualTime()
  system = new FakeSystem()
  reports = []
  open()
})

afterEach(() => bus.close())

const told = () => reports.map((r) => [r.state, r.trouble])

describe('frames', () => {
  it('go out as they are', () => {
    expect(bus.send(frame(0x123, Uint8Array.of(1, 2, 3).subarray(1)))).toBe('sent')
    expect(bus.send({ id: 0x1abcdef0, extended: true, remote: true, data: new Uint8Array(3) })).toBe('sent')
    expect(system.sent).toEqual([
      { id: 0x123, ext: false, rtr: false, data: [2, 3] },
      { id: 0x1abcdef0, ext: true, rtr: true, data: [0, 0, 0] },
    ])
  })

  it('too long never reach the package, which would write past its store', () => {
    expect(bus.send(frame(1, new Uint8Array(9)))).toBe('too long')
    expect(system.sent).toEqual([])
  })

  it('come in with the time of their arrival, which never falls', () => {
    const seen: [number, boolean, boolean, number][] = []
    bus.onFrame((f, t) => seen.push([f.id, f.extended, f.remote, t]))
    time.runUntil(5e6)
    // Absent is false, in what the package gives.
    system.last.hear({ id: 0x123, data: Buffer.of(1) })
    system.last.hear({ id: 0x124, ext: true, rtr: true, data: Buffer.alloc(2) })
    expect(seen).toEqual([
      [0x123, false, false, 5e6],
      [0x124, true, true, 5e6],
    ])
  })

  it('come in with the time at which the kernel saw them once one was sent; that never falls either', () => {
    const seen: number[] = []
    bus.onFrame((_, t) => seen.push(t))
    const wall = (us: number): WallStamp => ({ ts_sec: 1_795_890_166, ts_usec: us })
    const hear = (us: number): void => system.last.hear({ id: 1, data: Buffer.of(1), ...wall(us) })
    time.runUntil(5e6)
    hear(900_001)
    system.wall = () => wall(900_002)
    expect(bus.send(frame(2, Uint8Array.of()))).toBe('sent')
    time.runUntil(9e6)
    for (const us of [900_003, 903_002, 902_000, 999_999]) hear(us)
    expect(seen).toEqual([5e6, 5.001e6, 8e6, 8e6, 9e6])
  })

  it('are counted until they can have left, and one more than may be under way is refused, but not after a stop', () => {
    for (let n = 0; n < 4; n++) expect(bus.send(frame(n, new Uint8Array(8)))).toBe('sent')
    expect([bus.waiting, bus.send(frame(4, new Uint8Array(8)))]).toEqual([4, 'queue full'])
    expect(bus.withdraw()).toBe(0)
    expect(bus.send(frame(0x181, Uint8Array.of(2, 0)))).toBe('sent')
    time.runUntil(1e6)
    expect(bus.waiting).toBe(0)
  })
})

describe('filters', () => {
  it('are set in the kernel, with the format of the identifier', () => {
    bus.only([
      { id: 0x181, mask: 0x7ff, extended: false },
      { id: 0x1234567, mask: 0x1fffffff, extended: true },
    ])
    expect(system.last.filters).toEqual([
      { id: 0x181, mask: 0x800007ff },
      { id: 0x81234567, mask: 0x9fffffff },
    ])
    bus.only([])
    expect(system.last.filters).toEqual([{ id: 0, mask: 0, invert: true }])
    bus.only(null)
    expect(system.last.filters).toEqual([{ id: 0, mask: 0 }])
  })

  it('hold for what came in before they did, and for the channel after the next', async () => {
    const seen: number[] = []
    bus.onFrame((f) => seen.push(f.id))
    bus.only([{ id: 0x181, mask: 0x7ff, extended: false }])
    system.last.hear({ id: 0x182, data: Buffer.of(1) })
    expect(seen).toEqual([])
    system.down('down')
    system.state = 'up'
    await until(() => bus.state === 'active')
    expect(system.channels).toHaveLength(2)
    expect(system.last.filters).toEqual([{ id: 0x181, mask: 0x800007ff }])
  })
})

describe('a refused frame gets the reason that the system shows', () => {
  test.each([
    ['up', 'queue full', 'active', []],
    ['down', 'down', 'down', [['down', null]]],
    ['missing', 'no such interface', 'gone', [['gone', null]]],
  ] as const)('%s: %s', (link, reason, state, says) => {
    system.full = true
    system.state = link
    expect(bus.send(frame(1, new Uint8Array(0)))).toBe(reason)
    expect(bus.send(frame(1, new Uint8Array(0)))).toBe(reason)
    expect([bus.state, told()]).toEqual([state, says])
  })
})

it('a refused frame of a controller that is off the bus says so', () => {
  system.offBus = true
  expect(bus.send(frame(1, new Uint8Array(0)))).toBe('bus-off')
  expect(told()).toEqual([['bus-off', null]])
})

describe('the link', () => {
  it.each(['never', 'late'])(
    'down, and the package tells it %s: it is seen all the same, and told once',
    async (when) => {
      system.state = 'down'
      await until(() => bus.state === 'down')
      system.state = 'up'
      await until(() => bus.state === 'active')
      if (when === 'late') system.channels[0]!.linkDown()
      const seen: number[] = []
      bus.onFrame((f) => seen.push(f.id))
      system.channels[0]!.hear({ id: 7, data: Buffer.of() })
      system.channels[1]!.hear({ id: 8, data: Buffer.of() })
      expect([seen, system.channels.length]).toEqual([[8], 2])
      expect(told()).toEqual([
        ['down', null],
        ['active', null],
      ])
      bus.close()
      expect(system.channels.map((c) => c.running)).toEqual([false, false])
    },
  )

  it('down: told once; up again: a new channel, told, and nothing sent by itself', async () => {
    bus.send(frame(1, new Uint8Array(0)))
    system.down('down')
    expect([bus.send(frame(2, new Uint8Array(0))), bus.waiting]).toEqual(['down', 0])
    system.state = 'up'
    await until(() => bus.state === 'active')
    expect(told()).toEqual([
      ['down', null],
      ['active', null],
    ])
    expect(system.sent.map((s) => s.id)).toEqual([1])
    const seen: number[] = []
    bus.onFrame((f) => seen.push(f.id))
    system.channels[0]!.running = true
    system.channels[0]!.hear({ id: 7, data: Buffer.of() })
    system.last.hear({ id: 8, data: Buffer.of() })
    expect(seen).toEqual([8])
  })

  it('down and then gone: told as gone, and for good', async () => {
    system.down('down')
    system.state = 'missing'
    await until(() => bus.state === 'gone')
    system.state = 'up'
    expect(bus.send(frame(2, new Uint8Array(0)))).toBe('no such interface')
    expect(told()).toEqual([
      ['down', null],
      ['gone', null],
    ])
  })

  it('closed: nothing is told, and the channel is stopped once', () => {
    bus.close()
    bus.close()
    expect(system.last.running).toBe(false)
    expect(bus.send(frame(2, new Uint8Array(0)))).toBe('closed')
    expect(told()).toEqual([])
  })

  it('down as it is closed: nothing is told either', () => {
    system.down('down')
    reports.length = 0
    bus.close()
    expect(told()).toEqual([])
  })
})

describe('error frames', () => {
  it('are reports, not frames', () => {
    const seen: unknown[] = []
    bus.onFrame((f) => seen.push(f))
    system.last.hear(error(0x004 | 0x200, 0, 0x20, 0, 0, 0, 0, 130, 7)) // controller passive, counters
    system.last.hear(error(0x020)) // no acknowledgement
    system.last.hear(error(0x040)) // bus-off
    expect(bus.send(frame(1, new Uint8Array(0)))).toBe('bus-off')
    system.last.hear(error(0x100)) // restarted
    expect(bus.send(frame(1, new Uint8Array(0)))).toBe('sent')
    expect(told()).toEqual([
      ['passive', null],
      ['passive', 'no acknowledgement'],
      ['bus-off', null],
      ['active', null],
      ['active', 'restarted'],
    ])
    expect(reports[0]).toMatchObject({ transmitErrors: 130, receiveErrors: 7 })
    expect(seen).toEqual([])
  })
})

describe('opening', () => {
  test.each([
    ['missing', 'can0: no such interface; see whether the adapter is plugged in'],
    ['not CAN', 'can0: this is no CAN interface'],
    ['down', 'ip link set can0 type can bitrate 1000000 restart-ms 100'],
  ] as const)('%s', (link, says) => {
    system.state = link
    expect(open).toThrow(
      expect.objectContaining({ code: 'bus-access', message: expect.stringContaining(says) }),
    )
  })

  it('off the bus from the beginning', () => {
    bus.close()
    system.offBus = true
    open()
    expect(bus.state).toBe('bus-off')
  })

  it('without the package: says so loudly', () => {
    const gone = () => {
      throw Object.assign(new Error('Cannot find module'), { code: 'MODULE_NOT_FOUND' })
    }
    expect(() => canSystem('can0', gone)).toThrow(
      expect.objectContaining({
        code: 'bus-access',
        message: expect.stringMatching(
          /^can0: the package "socketcan" is not installed: .* run "npm install" again/,
        ),
      }),
    )
  })
})

test('the state of a link is read where the system shows it', () => {
  const root = mkdtempSync(join(tmpdir(), 'drystroke-net-'))
  const make = (name: string, files: Record<string, string>) => {
    mkdirSync(join(root, name))
    for (const [file, text] of Object.entries(files)) writeFileSync(join(root, name, file), `${text}\n`)
  }
  make('up', { flags: '0x40081', type: '280', carrier: '1' })
  make('down', { flags: '0x40080', type: '280' })
  make('off', { flags: '0x40081', type: '280', carrier: '0' })
  make('ether', { flags: '0x1003', type: '1', carrier: '1' })
  expect(['up', 'down', 'off', 'ether', 'none'].map((name) => canLink(name, root))).toEqual([
    'up',
    'down',
    'up',
    'not CAN',
    'missing',
  ])
  expect(['up', 'down', 'off'].map((name) => canCarrier(name, root))).toEqual([true, true, false])
  rmSync(root, { recursive: true })
})
