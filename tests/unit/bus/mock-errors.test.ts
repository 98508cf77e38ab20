import { beforeEach, describe, expect, it } from 'vitest'
import type { BusReport } from '../../../src/bus/contract.js'
import { MockBus, type MockPort } from '../../../src/bus/mock.js'
import { VirtualTime } from '../../../src/clock.js'
import { frameBits } from '../../../src/wire/bits.js'
import { type Frame, frame } from '../../../src/wire/frame.js'

/** ns at 1 Mbit/s */
const BIT = 1000
const MS = 1e6
const FRAME = frame(0x123, Uint8Array.of(1, 2, 3))
const numbered = (n: number): Frame => frame(0x100 + n, Uint8Array.of(n))

let time: VirtualTime
let bus: MockBus
let host: MockPort
let drive: MockPort
/** What the drive received: time in bits of 1 us, first byte. */
let heard: [number, number][]
let reports: (BusReport & { t: number })[]

beforeEach(() => {
  time = new VirtualTime()
  bus = new MockBus(time, { name: 'bus', bitrate: 1e6 })
  host = bus.attach('host', { queue: 4 })
  drive = bus.attach('drive', { order: 'by identifier' })
  heard = []
  reports = []
  drive.onFrame((f, t) => heard.push([t / BIT, f.data[0] ?? -1]))
  host.onReport((r, t) => reports.push({ ...r, t }))
})

const pass = (ns: number): void => time.runUntil(time.now() + ns)
const told = (): string[] => reports.map((r) => (r.trouble ? `${r.state}: ${r.trouble}` : r.state))

/** Disturbs the first `n` frames from now on, at `where`. */
function disturb(n: number, where: 'everywhere' | MockPort = 'everywhere'): void {
  let left = n
  bus.disturb(() => (left-- > 0 ? where : null))
}

describe('a disturbed frame', () => {
  it('takes bus time for its error frame and is sent again, before what waits behind it', () => {
    disturb(2)
    for (const n of [1, 2]) host.send(numbered(n))
    pass(10 * MS)
    const bits = frameBits(numbered(1)) - 3
    // Hit in the middle; flags 12, delimiter 8, intermission 3 bits; twice. Then the frame.
    const lost = Math.ceil(bits / 2) + 12 + 8 + 3
    expect(heard[0]).toEqual([2 * lost + bits, 1])
    expect(heard[1]).toEqual([2 * lost + bits + 3 + frameBits(numbered(2)) - 3, 2])
  })

  it('keeps its place before a queue that has filled up meanwhile', () => {
    disturb(1)
    host.send(numbered(1))
    time.at(20 * BIT, () => {
      for (const n of [2, 3, 4, 5]) expect(host.send(numbered(n))).toBe('sent')
      expect(host.send(numbered(6))).toBe('queue full')
    })
    pass(10 * MS)
    expect(heard.map(([, n]) => n)).toEqual([1, 2, 3, 4, 5])
  })

  it('lets one that wins arbitration go before it, also from the queue of its own port', () => {
    disturb(1)
    drive.send(numbered(8))
    const seen: number[] = []
    host.onFrame((f) => seen.push(f.data[0]!))
    time.at(20 * BIT, () => {
      for (const n of [9, 7]) drive.send(numbered(n))
    })
    pass(10 * MS)
    expect(seen).toEqual([7, 8, 9])
  })

  it('costs its sender 8 and each receiver 1, and a frame that goes well gives 1 back', () => {
    const other: BusReport[] = []
    drive.onReport((r) => other.push(r))
    disturb(3)
    host.send(FRAME)
    pass(10 * MS)
    // A run of errors is one report.
    expect(told()).toEqual(['active: bus error'])
    expect(other).toMatchObject([{ trouble: 'bus error', receiveErrors: 1, transmitErrors: 0 }])
    disturb(1)
    host.send(FRAME)
    pass(10 * MS)
    // 3 x 8 - 1 + 8; 3 - 1 + 1.
    expect(reports.at(-1)).toMatchObject({ transmitErrors: 31, receiveErrors: 0 })
    expect(other.at(-1)).toMatchObject({ transmitErrors: 0, receiveErrors: 3 })
  })

  it('that one receiver alone saw wrong costs that one 9, and once it is passive nobody hears of it', () => {
    const third = bus.attach('third')
    const seen: number[] = []
    third.onFrame((f) => seen.push(f.id))
    const states: string[] = []
    third.onReport((r) => states.push(`${r.state} ${r.receiveErrors}`))
    disturb(Number.POSITIVE_INFINITY, third)
    host.send(FRAME)
    pass(100 * MS)
    // 15 x 9; then its flag is recessive and the drive acknowledges the frame.
    expect(states).toEqual(['active 1', 'warning 99', 'passive 135'])
    expect(heard).toHaveLength(1)
    expect(seen).toEqual([])
    expect(host.waiting).toBe(0)
  })
})

describe('a sender whose frames are all disturbed', () => {
  beforeEach(() => bus.disturb((_, sender) => (sender === host ? 'everywhere' : null)))

  it('warns after 12, is passive after 16 and off after 32, and drops what waited', () => {
    for (const n of [1, 2, 3]) host.send(numbered(n))
    pass(100 * MS)
    expect(told()).toEqual(['active: bus error', 'warning', 'passive', 'bus-off'])
    expect(reports.map((r) => r.transmitErrors)).toEqual([8, 96, 128, 256])
    expect([host.state, host.waiting, host.send(FRAME)]).toEqual(['bus-off', 0, 'bus-off'])
    expect(heard).toEqual([])
  })

  it('leaves the bus to the others', () => {
    const third = bus.attach('third')
    host.send(FRAME)
    pass(100 * MS)
    third.send(numbered(7))
    pass(MS)
    expect(heard.map(([, n]) => n)).toEqual([7])
  })

  it('sends nothing until it is restarted, nor before 128 x 11 bits, and nothing old then', () => {
    for (const n of [1, 2, 3]) host.send(numbered(n))
    pass(1000 * MS)
    bus.disturb(null)
    expect(host.state).toBe('bus-off')
    host.restart()
    pass(1407 * BIT)
    expect(host.send(FRAME)).toBe('bus-off')
    pass(BIT)
    expect(told().at(-1)).toBe('active: restarted')
    expect(heard).toEqual([])
    expect(host.send(numbered(4))).toBe('sent')
    pass(MS)
    expect(heard.map(([, n]) => n)).toEqual([4])
  })

  it('is not brought back by a restart when it has gone down meanwhile', () => {
    host.send(FRAME)
    pass(100 * MS)
    host.restart()
    host.down()
    pass(100 * MS)
    expect(told().slice(-2)).toEqual(['bus-off', 'down'])
    expect(host.state).toBe('down')
  })

  it('restarts by itself only where that is set', () => {
    const eager = bus.attach('eager', { restartAfter: 100 * MS })
    const states: string[] = []
    let offAt = 0
    eager.onReport((r, t) => {
      states.push(r.trouble ?? r.state)
      if (r.state === 'bus-off') offAt = t
      if (r.trouble === 'restarted') expect(t).toBe(offAt + 100 * MS + 1408 * BIT)
    })
    bus.disturb((_, sender) => (sender === eager ? 'everywhere' : null))
    eager.send(FRAME)
    pass(1000 * MS)
    expect(states.slice(-2)).toEqual(['bus-off', 'restarted'])
    expect(eager.state).toBe('active')
  })
})

describe('a port alone on the bus', () => {
  it('gets no acknowledgement, repeats for ever, becomes passive and never off, and its queue fills', () => {
    host.cutLine()
    for (const n of [1, 2, 3, 4]) expect(host.send(numbered(n))).toBe('sent')
    pass(10_000 * MS)
    expect(told()).toEqual(['active: no acknowledgement', 'warning', 'passive'])
    expect(host.state).toBe('passive')
    // One is on the wire; there is room for one more.
    expect([host.send(numbered(5)), host.send(numbered(6))]).toEqual(['sent', 'queue full'])
    expect(heard).toEqual([])
  })

  it('fails at the acknowledge slot: error flag and delimiter instead of the end of frame', () => {
    host.cutLine()
    host.send(FRAME)
    // 12 attempts to the warning: each is as long as the frame without its last 11 bits, and 6 + 8 + 3.
    pass(1000 * MS)
    const bits = frameBits(FRAME)
    const warned = reports.find((r) => r.state === 'warning')!
    expect(warned.t).toBe((11 * (bits - 11 + 6 + 8 + 3) + bits - 3) * BIT)
  })

  it('goes on where it was when the plug is in again, in order', () => {
    host.send(numbered(1))
    host.send(numbered(2))
    time.at(20 * BIT, () => host.cutLine()) // in the middle of the first
    pass(500 * MS)
    expect(heard).toEqual([])
    host.mendLine()
    pass(MS)
    expect(heard.map(([, n]) => n)).toEqual([1, 2])
    // 128 - 2: below passive.
    expect(told().at(-1)).toBe('warning')
  })

  it('tears its frame: the others see an error, and go on', () => {
    const third = bus.attach('third')
    const states: number[] = []
    third.onReport((r) => states.push(r.receiveErrors!))
    host.send(numbered(1))
    time.at(20 * BIT, () => host.cutLine())
    time.at(30 * BIT, () => third.send(numbered(2)))
    pass(10 * MS)
    expect(states).toEqual([1])
    expect(heard.map(([, n]) => n)).toEqual([2])
  })
})

describe('an interface that goes down', () => {
  it('loses what waited, refuses, and sends nothing by itself when it is up again', () => {
    for (const n of [1, 2, 3]) host.send(numbered(n))
    time.at(10 * BIT, () => host.down())
    pass(10 * MS)
    expect([host.state, host.waiting, host.send(FRAME)]).toEqual(['down', 0, 'down'])
    drive.send(numbered(9))
    host.up()
    pass(10 * MS)
    expect([host.state, ...told()]).toEqual(['active', 'down', 'active'])
    expect(heard).toEqual([])
    expect(host.send(numbered(4))).toBe('sent')
    pass(MS)
    expect(heard.map(([, n]) => n)).toEqual([4])
  })

  it('begins with new error counters', () => {
    host.cutLine()
    host.send(FRAME)
    pass(100 * MS)
    host.down()
    host.up()
    expect(reports.at(-1)).toMatchObject({ state: 'active', transmitErrors: 0 })
  })
})

describe('an adapter that vanishes', () => {
  it('is gone for good, loses what waited and what comes in, and refuses', () => {
    const seen: Frame[] = []
    host.onFrame((f) => seen.push(f))
    host.send(FRAME)
    host.vanish()
    host.vanish()
    host.up()
    host.restart()
    drive.send(FRAME)
    pass(10 * MS)
    expect([host.state, host.waiting, host.send(FRAME)]).toEqual(['gone', 0, 'no such interface'])
    expect(told()).toEqual(['gone'])
    expect([heard, seen]).toEqual([[], []])
    host.close()
    expect(host.send(FRAME)).toBe('closed')
  })
})

describe('a receiver without room', () => {
  it('loses frames and says so once', () => {
    const seen: number[] = []
    host.onFrame((f) => seen.push(f.data[0]!))
    host.overflow(2)
    for (const n of [1, 2, 3]) drive.send(numbered(n))
    pass(10 * MS)
    expect(seen).toEqual([3])
    expect(told()).toEqual(['active: receive overflow'])
    host.overflow(1)
    drive.send(numbered(4))
    pass(10 * MS)
    expect(told()).toHaveLength(2)
  })
})
