import { beforeEach, describe, expect, it } from 'vitest'
import { MockBus, type MockPort } from '../../../src/bus/mock.js'
import { VirtualTime } from '../../../src/clock.js'
import { randomStream } from '../../../src/random.js'
import { frameBits, INTERMISSION_BITS } from '../../../src/wire/bits.js'
import { type Frame, frame } from '../../../src/wire/frame.js'

/** ns at 1 Mbit/s */
const BIT = 1000

const empty = (id: number): Frame => frame(id, new Uint8Array(0))
const extended = (id: number): Frame => ({ id, extended: true, remote: false, data: new Uint8Array(0) })
const remote = (f: Frame): Frame => ({ ...f, remote: true })

function shown(f: Frame): string {
  return `${f.id.toString(16)}${f.extended ? ' ext' : ''}${f.remote ? ' rtr' : ''}`
}

describe('mock bus', () => {
  let time: VirtualTime
  let bus: MockBus
  /** A port that only listens: `time in us, identifier`. */
  let log: string[]
  let times: number[]

  beforeEach(() => {
    time = new VirtualTime()
    bus = new MockBus(time, { name: 'bus', bitrate: 1_000_000 })
    log = []
    times = []
    bus.attach('listener').onFrame((f, t) => {
      expect(t).toBe(time.now())
      log.push(shown(f))
      times.push(t)
    })
  })

  const ports = (...names: string[]): MockPort[] => names.map((n) => bus.attach(n))

  it('starts at once when idle, ends before the intermission, and begins the next after it', () => {
    const [a] = ports('a')
    const first = frame(0x123, new Uint8Array(0)) // 48 bits: project check values 1
    const second = frame(0x014, Uint8Array.of(0x01)) // 58 bits
    time.at(5000, () => {
      a!.send(first)
      a!.send(second)
    })
    time.runUntil(1e9)
    expect(times).toEqual([5000 + 45 * BIT, 5000 + 48 * BIT + 55 * BIT])
  })

  it('lets the lowest identifier of those offered at one instant go first, whoever asked first', () => {
    const [a, b, c] = ports('a', 'b', 'c')
    time.at(10, () => a!.send(empty(0x300)))
    time.at(10, () => b!.send(empty(0x200)))
    time.at(10, () => c!.send(empty(0x100)))
    time.runUntil(1e9)
    expect(log).toEqual(['100', '200', '300'])
  })

  it('lets a frame offered at the very end of the intermission take part in the arbitration there', () => {
    const [a, b] = ports('a', 'b')
    a!.send(empty(0x123)) // ends at 48 bits
    a!.send(empty(0x700))
    // Asked for late, so that this task stands behind the bus's own for that instant.
    time.at(47 * BIT, () => time.at(48 * BIT, () => b!.send(empty(0x001))))
    time.runUntil(1e9)
    expect(log).toEqual(['123', '1', '700'])
  })

  it('never stops a frame that has begun', () => {
    const [a, b] = ports('a', 'b')
    a!.send(empty(0x700))
    time.at(1, () => b!.send(empty(0x001)))
    time.runUntil(1e9)
    expect(log).toEqual(['700', '1'])
  })

  it('does not start during the intermission', () => {
    const [a, b] = ports('a', 'b')
    a!.send(empty(0x123))
    time.at(46 * BIT, () => b!.send(empty(0x123)))
    time.runUntil(1e9)
    expect(times).toEqual([45 * BIT, 48 * BIT + 45 * BIT])
  })

  // ISO 11898-1: dominant overwrites recessive, bit by bit; RTR and IDE follow the base identifier.
  it('arbitrates data before remote, standard before extended, and then by the rest of the identifier', () => {
    const base = 0x123
    const order = [
      empty(base - 1),
      empty(base),
      remote(empty(base)),
      extended(base << 18),
      remote(extended(base << 18)),
      extended((base << 18) | 1),
      extended((base << 18) | 0x3ffff),
      empty(base + 1),
    ]
    // The weakest is attached and asks first, so that neither can decide for the right order.
    for (const f of [...order].reverse()) bus.attach(shown(f)).send(f)
    time.runUntil(1e9)
    expect(log).toEqual(order.map(shown))
  })

  it('lets a port attached earlier go first when two offer the same identifier', () => {
    const [a, b] = ports('a', 'b')
    const seen: number[] = []
    bus.attach('c').onFrame((f) => seen.push(f.data[0]!))
    b!.send(frame(0x100, Uint8Array.of(2)))
    a!.send(frame(0x100, Uint8Array.of(1)))
    time.runUntil(1e9)
    expect(seen).toEqual([1, 2])
  })

  it('offers first in, first out, or the strongest identifier first, as the port was made', () => {
    const ids = [0x300, 0x100, 0x200, 0x100]
    const fifo = bus.attach('host', { order: 'handed over' })
    for (const id of ids) fifo.send(empty(id))
    time.runUntil(1e9)
    expect(log.splice(0)).toEqual(['300', '100', '200', '100'])
    const sorted = bus.attach('drive', { order: 'by identifier' })
    for (const id of ids) sorted.send(empty(id))
    time.runUntil(2e9)
    expect(log).toEqual(['100', '100', '200', '300'])
  })

  it('keeps equal identifiers in order when the strongest goes first', () => {
    const port = bus.attach('drive', { order: 'by identifier' })
    const seen: number[] = []
    bus.attach('c').onFrame((f) => seen.push(f.data[0]!))
    for (let n = 0; n < 5; n++) port.send(frame(0x100, Uint8Array.of(n)))
    time.runUntil(1e9)
    expect(seen).toEqual([0, 1, 2, 3, 4])
  })

  it('does not count the frame on the wire as waiting', () => {
    const port = bus.attach('host', { queue: 2 })
    expect([1, 2, 3].map((id) => port.send(empty(id)))).toEqual(['sent', 'sent', 'queue full'])
    time.runUntil(1)
    expect(port.waiting).toBe(1)
    expect([4, 5].map((id) => port.send(empty(id)))).toEqual(['sent', 'queue full'])
  })

  it('brings a frame to its end whose port closes, drops what waited, and goes on', () => {
    const [a, b] = ports('a', 'b')
    a!.send(empty(0x100))
    a!.send(empty(0x101))
    time.at(10, () => {
      expect(a!.waiting).toBe(1)
      a!.close()
      expect(a!.waiting).toBe(0)
      b!.send(empty(0x102))
    })
    time.runUntil(1e9)
    expect(log).toEqual(['100', '102'])
  })

  it('goes idle again when the only offer is withdrawn before it began', () => {
    const [a, b] = ports('a', 'b')
    a!.send(empty(0x100))
    a!.close()
    time.runUntil(1000)
    b!.send(empty(0x200))
    time.runUntil(1e9)
    expect(log).toEqual(['200'])
  })

  it('hands a frame to no listener of a port that closes while it is handed out', () => {
    const [a, b, c] = ports('a', 'b', 'c')
    const seen: string[] = []
    b!.onFrame(() => {
      seen.push('b')
      c!.close()
    })
    c!.onFrame(() => seen.push('c'))
    a!.send(empty(1))
    time.runUntil(1e9)
    expect(seen).toEqual(['b'])
  })

  it('takes an answer that a listener sends into the next arbitration', () => {
    const [a, b] = ports('a', 'b')
    b!.onFrame((f) => {
      if (f.id === 0x123) b!.send(empty(0x050))
    })
    a!.send(empty(0x123))
    a!.send(empty(0x200))
    time.runUntil(1e9)
    expect(log).toEqual(['123', '50', '200'])
  })

  // Property, fixed seeds: work-conserving, no overlap, every frame exactly as long as its bits, none lost.
  it.each([1, 2, 3])('loses, overlaps and stretches nothing under random load (seed %i)', (seed) => {
    const random = randomStream(seed, 'mock bus')
    const whole = (n: number): number => Math.floor(random.uniform() * n)
    const offered: { id: number; at: number }[] = []
    const arrived: { frame: Frame; t: number }[] = []
    bus.attach('probe').onFrame((f, t) => arrived.push({ frame: f, t }))
    for (let node = 0; node < 6; node++) {
      const port = bus.attach(`node ${node}`, {
        order: node % 2 ? 'by identifier' : 'handed over',
        queue: 1000,
      })
      for (let n = 0; n < 300; n++) {
        // Every frame its own identifier, so that the offer it answers is known.
        const id = n * 6 + node
        const at = whole(2e8)
        offered.push({ id, at })
        const data = Uint8Array.from({ length: whole(9) }, () => whole(256))
        time.at(at, () => expect(port.send(frame(id, data))).toBe('sent'))
      }
    }
    time.runUntil(1e9)
    expect(arrived.map((a) => a.frame.id).sort((a, b) => a - b)).toEqual(
      offered.map((o) => o.id).sort((a, b) => a - b),
    )
    const offeredAt = new Map(offered.map((o) => [o.id, o.at]))
    let free = 0
    const pending = [...offered].sort((a, b) => a.at - b.at)
    for (const { frame: f, t } of arrived) {
      const bits = frameBits(f)
      const start = t - (bits - INTERMISSION_BITS) * BIT
      // It began as soon as the bus was free and any frame was offered: not earlier, not later.
      expect(start).toBe(Math.max(free, pending[0]!.at))
      expect(start).toBeGreaterThanOrEqual(offeredAt.get(f.id)!)
      pending.splice(
        pending.findIndex((p) => p.id === f.id),
        1,
      )
      free = start + bits * BIT
    }
  })
})
