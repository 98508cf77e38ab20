/** What each fault of a mock bus does to what is sent, heard and reported there. */
import { beforeEach, describe, expect, it } from 'vitest'
import type { BusReport } from '../../../src/bus/contract.js'
import { MockBus, type MockPort } from '../../../src/bus/mock.js'
import { MockFaults } from '../../../src/bus/mock-faults.js'
import { VirtualTime } from '../../../src/clock.js'
import type { BusFaultName } from '../../../src/files/faults/catalogue.js'
import { loadRig } from '../../../src/files/load.js'
import { watchSchemas } from '../../../src/watch/settings.js'
import { frameBits } from '../../../src/wire/bits.js'
import { frame } from '../../../src/wire/frame.js'
import { DEMO_RIG } from '../../setup/runs.js'

const MS = 1e6
const rig = loadRig(DEMO_RIG, 'rig.yaml', watchSchemas)

let time: VirtualTime
let bench: MockPort
let drive: MockPort
/** What a second drive hears, which only listens. */
let other: { id: number; t: number }[]
let atBench: { id: number; t: number; sent: number }[]
let atDrive: number[]
let reports: BusReport[]
let fault: (name: BusFaultName, on: boolean, amount?: number) => void

beforeEach(() => {
  time = new VirtualTime()
  const buses = rig.buses.map((b) => new MockBus(time, b))
  drive = buses[0]!.attach('drive', { order: 'by identifier' })
  const listener = buses[0]!.attach('listener', { order: 'by identifier' })
  const ports = buses.map((b) => b.attach('bench', { queue: 32 }))
  bench = ports[0]!
  other = []
  atBench = []
  atDrive = []
  reports = []
  listener.onFrame((f, t) => other.push({ id: f.id, t }))
  bench.onFrame((f, t) => atBench.push({ id: f.id, t, sent: f.data[0] ?? -1 }))
  drive.onFrame((f) => atDrive.push(f.id))
  bench.onReport((r) => reports.push(r))
  const faults = new MockFaults(rig, time, buses, ports, 1)
  fault = (name, on, amount = 0) => faults.fault({ fault: name, place: 0, other: -1, amount }, on)
})

const pass = (ns: number): void => time.runUntil(time.now() + ns)

describe('unacknowledged', () => {
  it('what the harness sends comes to nobody and is repeated to error passive; the others are heard as ever', () => {
    fault('unacknowledged', true)
    bench.send(frame(0x201, Uint8Array.of(1)))
    pass(20 * MS)
    drive.send(frame(0x181, Uint8Array.of(2)))
    pass(20 * MS)
    expect(atDrive).toEqual([])
    expect(atBench.map((f) => f.id)).toEqual([0x181])
    // ISO 11898-1: alone it goes to error passive (128 at 8 a time) and no further, and reports it.
    expect(reports.map((r) => [r.state, r.trouble])).toEqual([
      ['active', 'no acknowledgement'],
      ['warning', null],
      ['passive', null],
      // A frame that came in well ends the run of errors: the next one is told anew.
      ['passive', 'no acknowledgement'],
    ])
    expect(bench.state).toBe('passive')
    fault('unacknowledged', false)
    pass(1 * MS)
    expect(atDrive).toEqual([0x201])
  })
})

describe('wrong-bitrate', () => {
  it('the harness hears nothing, and switches itself off when it sends; the others go on', () => {
    fault('wrong-bitrate', true)
    for (let i = 0; i < 200; i++) {
      drive.send(frame(0x181, Uint8Array.of(i)))
      pass(1 * MS)
    }
    expect(atBench).toEqual([])
    expect(bench.state).toBe('passive')
    // Once it is error passive it disturbs the others no more.
    expect(other.length).toBeGreaterThan(150)
    bench.send(frame(0x201, Uint8Array.of(1)))
    pass(20 * MS)
    expect(bench.state).toBe('bus-off')
    expect(atDrive).toEqual([])
    fault('wrong-bitrate', false)
    pass(20 * MS)
    drive.send(frame(0x181, Uint8Array.of(1)))
    pass(1 * MS)
    expect(atBench).toHaveLength(1)
  })
})

describe('queue-full', () => {
  it('so many may wait, the next is refused; as many as ever when it is over', () => {
    fault('queue-full', true, 2)
    const answers = () => [1, 2, 3, 4].map((n) => bench.send(frame(0x200 + n, Uint8Array.of(n))))
    expect(answers()).toEqual(['sent', 'sent', 'queue full', 'queue full'])
    pass(2 * MS)
    fault('queue-full', true, 0)
    expect(answers()).toEqual(['queue full', 'queue full', 'queue full', 'queue full'])
    fault('queue-full', false)
    expect(answers()).toEqual(['sent', 'sent', 'sent', 'sent'])
    pass(2 * MS)
    expect(atDrive).toHaveLength(6)
  })
})

describe('overflow', () => {
  it('the next so many that come in are lost at the harness alone, and it says so once', () => {
    fault('overflow', true, 5)
    for (let i = 0; i < 8; i++) drive.send(frame(0x181, Uint8Array.of(i)))
    pass(5 * MS)
    expect(atBench.map((f) => f.sent)).toEqual([5, 6, 7])
    expect(other).toHaveLength(8)
    expect(reports.map((r) => r.trouble)).toEqual(['receive overflow'])
  })
})

describe('batched', () => {
  it('what comes in is handed over, in order, at whole multiples of the time, and stamped then', () => {
    fault('batched', true, 0.016)
    for (let i = 0; i < 10; i++) {
      drive.send(frame(0x181, Uint8Array.of(i)))
      pass(5 * MS)
    }
    expect(other).toHaveLength(10)
    pass(16 * MS)
    expect(atBench.map((f) => f.sent)).toEqual([0, 1, 2, 3, 4, 5, 6, 7, 8, 9])
    // Sent at 0, 5, 10, 15 ms: handed over at 16; and so on.
    expect(atBench.map((f) => f.t / MS)).toEqual([16, 16, 16, 16, 32, 32, 32, 48, 48, 48])
    fault('batched', false)
    drive.send(frame(0x181, Uint8Array.of(10)))
    pass(1 * MS)
    expect(atBench).toHaveLength(11)
    expect(atBench[10]!.t).toBe(other[10]!.t)
  })
})

describe('strangers', () => {
  const rate = () => other.filter((f) => f.t < 1000 * MS)

  it('stray: frames of an identifier that is none of the rig, at that rate', () => {
    fault('stray', true, 50)
    pass(1000 * MS)
    expect(rate()).toHaveLength(50)
    expect(new Set(rate().map((f) => f.id))).toEqual(new Set([0x7ff]))
    fault('stray', false)
    pass(1000 * MS)
    expect(other.filter((f) => f.t > 1010 * MS)).toEqual([])
  })

  it('second-master: setpoints to the first joint, which only the harness may send', () => {
    fault('second-master', true, 20)
    pass(1000 * MS)
    expect(rate()).toHaveLength(20)
    // CiA 301: 200h and the node, 11 in the demo rig.
    expect(new Set(rate().map((f) => f.id))).toEqual(new Set([0x20b]))
  })

  it('flooded: frames that take that share of the time', () => {
    fault('flooded', true, 0.4)
    pass(1000 * MS)
    const bits = frameBits(frame(0x001, new Uint8Array(8).fill(0x55)))
    expect((rate().length * bits) / rig.buses[0]!.bitrate).toBeCloseTo(0.4, 2)
    fault('flooded', false)
    pass(1 * MS)
    other = []
    pass(100 * MS)
    expect(other).toEqual([])
  })

  it('flooded wholly: nobody else comes through', () => {
    fault('flooded', true, 1)
    pass(10 * MS)
    bench.send(frame(0x201, Uint8Array.of(1)))
    pass(100 * MS)
    expect(atDrive).not.toContain(0x201)
  })
})

describe('a harness that stands still', () => {
  it('takes what came in meanwhile when it goes on, in order, stamped then', () => {
    bench.hold(20 * MS)
    for (let i = 0; i < 5; i++) {
      drive.send(frame(0x181, Uint8Array.of(i)))
      pass(6 * MS)
    }
    expect(atBench.map((f) => f.sent)).toEqual([0, 1, 2, 3, 4])
    expect(atBench.slice(0, 4).map((f) => f.t / MS)).toEqual([20, 20, 20, 20])
    expect(atBench[4]!.t).toBe(other[4]!.t)
  })
})
