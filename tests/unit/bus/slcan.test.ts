/** Both ends of an slcan line on a line that takes as much as it is told: transcripts of text out, text in. */
import { beforeEach, describe, expect, it, vi } from 'vitest'
import type { ByteLine } from '../../../src/bus/byte-line.js'
import type { BusReport } from '../../../src/bus/contract.js'
import { SlcanBus } from '../../../src/bus/slcan.js'
import { SlcanPeer } from '../../../src/bus/slcan-server.js'
import { VirtualTime } from '../../../src/clock.js'
import { frame } from '../../../src/wire/frame.js'

/** Takes `room` bytes and then no more; keeps what it took. */
class FakeLine implements ByteLine {
  readonly place = 'fake'
  descriptor = 7
  room = Infinity
  out = ''
  broken = false
  #bytes: ((bytes: Uint8Array) => void)[] = []
  #lost: ((reason: string) => void)[] = []

  write(bytes: Uint8Array, from: number, to: number): number | null {
    if (this.broken) return null
    const taken = Math.min(this.room, to - from)
    this.room -= taken
    this.out += String.fromCharCode(...bytes.subarray(from, from + taken))
    return taken
  }

  onBytes(listener: (bytes: Uint8Array) => void): void {
    this.#bytes.push(listener)
  }

  onLost(listener: (reason: string) => void): void {
    this.#lost.push(listener)
  }

  close(): void {
    this.descriptor = -1
  }

  hear(text: string): void {
    for (const listener of this.#bytes) listener(Uint8Array.from(text, (c) => c.charCodeAt(0)))
  }

  lose(reason: string): void {
    this.broken = true
    for (const listener of this.#lost) listener(reason)
  }

  /** What was taken since the last time. */
  taken(): string {
    const { out } = this
    this.out = ''
    return out.replaceAll('\r', '|')
  }
}

const settings = { name: 'port-can', bitrate: 1e6, serialRate: Infinity, queue: 4 }
const numbered = (n: number) => frame(0x100 + n, Uint8Array.of(n))

let time: VirtualTime
let line: FakeLine
let bus: SlcanBus
let reports: BusReport[]

beforeEach(() => {
  vi.useRealTimers()
  time = new VirtualTime()
  line = new FakeLine()
  bus = SlcanBus.takeOver(line, settings, time)
  expect(line.taken()).toBe('|')
  line.hear('\r')
  reports = []
  bus.onReport((r) => reports.push(r))
})

const later = (ns: number) => time.runUntil(time.now() + ns)
/** Lets the retries run that wait for real time, whatever the clock of the bus says. */
const retries = async (done: () => boolean) => {
  while (!done()) await new Promise((resolve) => setTimeout(resolve, 1))
}

describe('handing over', () => {
  it('is done at once, in one piece', () => {
    expect(bus.send(numbered(1))).toBe('sent')
    expect(line.taken()).toBe('t101101|')
  })

  it('goes on in the middle of a line, and keeps the order', async () => {
    line.room = 3
    for (const n of [1, 2, 3]) expect(bus.send(numbered(n))).toBe('sent')
    expect(line.taken()).toBe('t10')
    expect(bus.waiting).toBe(3)
    line.room = 10
    await retries(() => line.room === 0)
    expect(line.taken()).toBe('1101|t1021')
    line.room = Infinity
    // At the next frame too, not only by and by.
    bus.send(numbered(4))
    expect(line.taken()).toBe('02|t103103|t104104|')
  })

  it('counts a frame until it can have left the bus', () => {
    bus.send(frame(0x555, Uint8Array.of(0x1b, 0x04))) // 1 Mbit/s: a frame of 47 + 16 bits and stuffing
    expect(bus.waiting).toBe(1)
    later(60e3)
    expect(bus.waiting).toBe(1)
    later(20e3)
    expect(bus.waiting).toBe(0)
  })

  it('counts it longer on a slow serial line: ten bits a character', () => {
    const slow = SlcanBus.takeOver(line, { ...settings, serialRate: 115_200 }, time)
    slow.send(frame(0x100, new Uint8Array(8)))
    slow.send(frame(0x100, new Uint8Array(8)))
    // 22 characters are 1.91 ms, then at most 135 us on the bus.
    later(1.9e6)
    expect(slow.waiting).toBe(2)
    later(0.15e6)
    expect(slow.waiting).toBe(1)
    later(2e6)
    expect(slow.waiting).toBe(0)
  })

  it('refuses one frame more than may be under way, in the ring and beyond together', () => {
    line.room = 20
    expect([1, 2, 3, 4, 5].map((n) => bus.send(numbered(n)))).toEqual([
      'sent',
      'sent',
      'sent',
      'sent',
      'queue full',
    ])
    expect(line.taken()).toBe('t101101|t102102|t103')
    expect(bus.waiting).toBe(4)
  })
})

describe('a stop', () => {
  it('takes back whole lines, not the one that has begun, and goes right behind it', () => {
    line.room = 11
    for (const n of [1, 2, 3, 4]) bus.send(numbered(n))
    expect(bus.send(numbered(5))).toBe('queue full')
    expect(bus.withdraw()).toBe(2)
    expect(bus.waiting).toBe(2)
    line.room = Infinity
    expect(bus.send(frame(0x181, Uint8Array.of(2, 0)))).toBe('sent')
    expect(line.taken()).toBe('t101101|t102102|t18120200|')
  })

  it('is not refused for frames that the system has already', () => {
    for (const n of [1, 2, 3, 4]) expect(bus.send(numbered(n))).toBe('sent')
    expect(bus.withdraw()).toBe(0)
    for (const n of [5, 6, 7, 8]) expect(bus.send(numbered(n))).toBe('sent')
    expect(bus.send(numbered(9))).toBe('queue full')
    expect(bus.waiting).toBe(8)
  })
})

describe('a line that takes nothing', () => {
  it('is reported once, and again after it has moved', async () => {
    line.room = 0
    bus.send(numbered(1))
    later(60e6)
    await retries(() => reports.length > 0)
    expect(reports).toEqual([
      {
        state: 'active',
        trouble: 'transmit time-out',
        transmitErrors: null,
        receiveErrors: null,
        says: 'fake has taken nothing for 50 ms',
      },
    ])
    later(60e6)
    bus.send(numbered(2))
    expect(reports).toHaveLength(1)
    line.room = 3
    bus.send(numbered(3))
    later(200e6)
    bus.send(numbered(4))
    expect(reports).toHaveLength(2)
    expect(line.taken()).toBe('t10')
  })
})

describe('a line that is lost', () => {
  it('is reported as gone; half a line and all that waited are dropped', () => {
    line.room = 3
    bus.send(numbered(1))
    bus.send(numbered(2))
    line.lose('hung up')
    expect(reports).toEqual([
      { state: 'gone', trouble: null, transmitErrors: null, receiveErrors: null, says: 'fake: hung up' },
    ])
    expect(bus.waiting).toBe(0)
    expect(bus.withdraw()).toBe(0)
    expect(bus.send(numbered(3))).toBe('no such interface')
    line.broken = false
    line.room = Infinity
    expect(bus.send(numbered(4))).toBe('no such interface')
    expect(line.taken()).toBe('t10')
  })

  it('is noticed by a write before it is told', () => {
    line.broken = true
    expect(bus.send(numbered(1))).toBe('no such interface')
    expect(bus.waiting).toBe(0)
  })
})

describe('what the adapter tells', () => {
  it('states, once each, with their counters; nothing is sent while it is off the bus', () => {
    line.hear('sw096000\rsw097000\rsp128001\rsb000256\r')
    expect(reports.map((r) => [r.state, r.receiveErrors, r.transmitErrors])).toEqual([
      ['warning', 96, 0],
      ['passive', 128, 1],
      ['bus-off', 0, 256],
    ])
    expect(bus.state).toBe('bus-off')
    expect(bus.send(numbered(1))).toBe('bus-off')
    line.hear('F00\r')
    expect(bus.state).toBe('bus-off')
    line.hear('sa000000\r')
    expect(bus.send(numbered(1))).toBe('sent')
    expect(line.taken()).toBe('t101101|')
  })

  it('errors, each kind by its name', () => {
    line.hear('e1a\re2oO\re1c\r')
    expect(reports.map((r) => r.trouble)).toEqual([
      'no acknowledgement',
      'receive overflow',
      'transmit overflow',
      'bus error',
    ])
  })

  it('that it refused a frame: it is asked why, and not over and over', () => {
    line.hear('\x07\x07\x07')
    expect(line.taken()).toBe('F|')
    expect(reports.map((r) => r.trouble)).toEqual(['transmit overflow'])
    line.hear('F22\r')
    expect(reports.slice(1).map((r) => [r.state, r.trouble])).toEqual([['passive', null]])
    later(200e6)
    line.hear('\x07')
    expect(line.taken()).toBe('F|')
    expect(reports.at(-1)?.says).toContain('3 more since')
  })

  it('frames, whatever acknowledgements lie between them; all of one piece at one time', () => {
    const seen: [number, number][] = []
    bus.onFrame((f, t) => seen.push([f.id, t]))
    later(5e6)
    line.hear('z\rt1230\r\rZ\rt1')
    later(1e6)
    line.hear('240\r')
    expect(seen).toEqual([
      [0x123, 5e6],
      [0x124, 6e6],
    ])
    expect(reports).toEqual([])
  })

  it('nothing that means anything: told at most ten times a second, and how often', () => {
    for (let n = 0; n < 1000; n++) {
      line.hear('rubbish\r')
      later(1e6)
    }
    expect(reports.length).toBe(10)
    expect(reports.every((r) => r.trouble === 'garbled')).toBe(true)
    expect(reports[1]!.says).toBe(
      'the adapter sent what means nothing: "rubbish"; 99 more since this was last told',
    )
  })
})

describe('the adapter that we play', () => {
  it('drops what waits when the channel is closed, and opens with nothing', () => {
    const peer = new SlcanPeer(line, settings, time)
    line.hear('O\r')
    expect(line.taken()).toBe('|')
    line.room = 2
    peer.send(numbered(1))
    peer.send(numbered(2))
    line.hear('C\r')
    expect([peer.state, peer.send(numbered(3))]).toEqual(['down', 'down'])
    line.room = Infinity
    line.hear('O\r')
    expect(line.taken()).toBe('t101101|||')
  })
})
