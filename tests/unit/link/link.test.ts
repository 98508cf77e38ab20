/** The joint link on buses in the test's hand: what leaves, what is held back, and what a stop does to both. */
import { readFileSync } from 'node:fs'
import { beforeEach, describe, expect, it } from 'vitest'
import { loadRig } from '../../../src/files/load.js'
import { JointLink } from '../../../src/link/link.js'
import { seed } from '../../../src/link/scripts.js'
import { feedbackFrame } from '../../../src/wire/cia402/process.js'
import { statusBits } from '../../../src/wire/cia402/state.js'
import { frame } from '../../../src/wire/frame.js'
import { watchSchemas } from '../files/watch-schemas.js'
import { cia402, FakeBus } from './fake-bus.js'

// port.swing: bus can-a, node 11, 131072 counts a turn, zero 1200, its own controlword 30Bh.
// port.elbow: bus can-b, node 11, 65536 counts a turn, sign -1, zero 0, shared controlword 181h.
const rig = loadRig(
  readFileSync(new URL('../files/small-rig.yaml', import.meta.url), 'utf8'),
  'small-rig.yaml',
  watchSchemas,
)
const FEEDBACK = 0x180 + 11
const ENABLED = statusBits('operation enabled')
const FOLLOWS = 0x1000
const DEG = Math.PI / 180

let a: FakeBus
let b: FakeBus
let link: JointLink

beforeEach(() => {
  a = new FakeBus('can-a')
  b = new FakeBus('can-b')
  link = new JointLink(rig, [a, b])
})

/** Both joints at 1 deg: 131072 / 360 + 1200 = 1564.09 and -65536 / 360 = -182.04 counts. */
function feedback(t: number): void {
  link.onFrame(0, feedbackFrame(FEEDBACK, ENABLED | FOLLOWS, 1564, 0), t)
  link.onFrame(1, feedbackFrame(FEEDBACK, ENABLED | FOLLOWS, -182, 0), t)
}

/** Setpoints flow, both joints are held at 1 deg. */
function flowing(): void {
  feedback(0)
  link.unsilence()
  link.shadow(0)
  a.take()
  b.take()
}

const degrees = (...q: number[]): Float64Array => Float64Array.from(q, (x) => x * DEG)

describe('setpoints', () => {
  it('do not leave before the start-up lets them', () => {
    feedback(0)
    expect(link.cycle(0, degrees(1, 1))).toEqual({ breach: null, dropped: [], notSent: [] })
    expect([a.take(), b.take()]).toEqual([[], []])
    link.unsilence()
    link.shadow(0)
    // 1564 = 61Ch, -182 = FFFFFF4Ah.
    expect([a.take(), b.take()]).toEqual([['20b: 1c 06 00 00'], ['20b: 4a ff ff ff']])
  })

  it('shadow the measured position until the joint is held, then stay', () => {
    flowing()
    link.drives[0]!.held = true
    link.onFrame(0, feedbackFrame(FEEDBACK, ENABLED, 1600, 0), 5e6)
    link.onFrame(1, feedbackFrame(FEEDBACK, ENABLED, -200, 0), 5e6)
    link.shadow(5e6)
    // -200 = FFFFFF38h.
    expect([a.take(), b.take()]).toEqual([['20b: 1c 06 00 00'], ['20b: 38 ff ff ff']])
  })

  it('of all joints stay back when one breaches: the gate says which and why', () => {
    flowing()
    const { breach } = link.cycle(0, degrees(1, 9))
    expect(breach).toMatchObject({ joint: 1, quantity: 'setpoint speed' })
    expect([a.take(), b.take()]).toEqual([[], []])
  })

  it('stay back when the feedback is older than the rig allows: 20 ms', () => {
    flowing()
    expect(link.cycle(20e6, degrees(1, 1)).breach).toBeNull()
    expect(link.cycle(20e6 + 1, degrees(1, 1)).breach).toMatchObject({ quantity: 'age of the feedback' })
  })
})

describe('one cycle outstanding', () => {
  it('while frames of the tick before wait, setpoints of that bus are dropped; the other bus gets its own', () => {
    flowing()
    a.waiting = 1
    link.sync()
    a.take()
    b.take()
    expect(link.cycle(0, degrees(1.02, 1.02))).toEqual({ breach: null, dropped: [0], notSent: [] })
    // 1.02 deg x 65536 / 360 = 185.69: -186 = FFFFFF46h.
    expect([a.take(), b.take()]).toEqual([[], ['20b: 46 ff ff ff']])
    const held = new Float64Array(2)
    link.held(held)
    expect(held[0]! / DEG).toBeCloseTo(1, 3)
    expect(held[1]! / DEG).toBeCloseTo(1.02, 9)
  })

  it('they flow again at the first SYNC that finds nothing waiting', () => {
    flowing()
    a.waiting = 1
    link.sync()
    link.cycle(0, degrees(1, 1))
    a.waiting = 0
    link.sync()
    expect(link.cycle(0, degrees(1, 1)).dropped).toEqual([])
    expect(a.take().at(-1)).toMatch(/^20b/)
  })

  it('what waits of this very tick is no backlog', () => {
    flowing()
    link.sync()
    a.waiting = 1
    expect(link.cycle(0, degrees(1, 1)).dropped).toEqual([])
  })
})

describe('halt', () => {
  it('takes back what waits on every bus and says how much', () => {
    flowing()
    a.waiting = 3
    expect(link.halt()).toEqual([3, 0])
    expect([a.withdrawals, b.withdrawals]).toEqual([1, 1])
  })

  it('lets no setpoint out, and no unsilencing takes it back', () => {
    flowing()
    link.halt()
    link.unsilence()
    expect(link.cycle(0, degrees(1, 1))).toEqual({ breach: null, dropped: [], notSent: [] })
    link.shadow(0)
    expect([a.take(), b.take()]).toEqual([[], []])
  })

  it.each(['shutdown', 'switch on', 'enable operation', 'fault reset'] as const)(
    'holds back %s',
    (command) => {
      link.halt()
      expect(link.control(command)).toEqual([])
      expect([a.take(), b.take()]).toEqual([[], []])
      link.permit()
      link.control(command)
      expect([a.take(), b.take()].every((sent) => sent.length === 1)).toBe(true)
    },
  )

  // CiA 402: quick stop 02h, disable voltage 00h.
  it.each([
    ['quick stop', '02 00'],
    ['disable voltage', '00 00'],
  ] as const)('lets %s pass', (command, bytes) => {
    link.halt()
    link.control(command)
    expect([a.take(), b.take()]).toEqual([[`30b: ${bytes}`], [`181: ${bytes}`]])
  })

  it('in the middle of a cycle keeps the rest of it back', () => {
    flowing()
    a.onSend = () => link.halt()
    link.cycle(0, degrees(1, 1))
    expect([a.take().length, b.take().length]).toEqual([1, 0])
  })

  it('permit lets enabling through but no setpoint: those wait for the start-up', () => {
    flowing()
    link.halt()
    link.permit()
    link.cycle(0, degrees(1, 1))
    expect([a.take(), b.take()]).toEqual([[], []])
    link.unsilence()
    link.cycle(0, degrees(1, 1))
    expect([a.take().length, b.take().length]).toEqual([1, 1])
  })
})

describe('frames of our own', () => {
  // CiA 301: SYNC 080h without data, heartbeat of node 127 at 77Fh with 05h operational, NMT 000h with command and node.
  it.each([
    ['SYNC', () => link.sync(), '080:'],
    ['heartbeat', () => link.heartbeat(), '77f: 05'],
    ['NMT start', () => link.network('start'), '000: 01 00'],
    ['NMT pre-operational', () => link.network('pre-operational'), '000: 80 00'],
    ['NMT reset communication', () => link.network('reset communication'), '000: 82 00'],
  ])('%s goes out on every bus', (_, act, sent) => {
    expect(act()).toEqual([])
    expect([a.take(), b.take()]).toEqual([[sent], [sent]])
  })

  it('a controlword by SDO goes to one drive: 6040h, two bytes', () => {
    const said = link.insist(link.drives[1]!, 'quick stop')
    expect(said).toEqual({ way: 'its controlword PDO', next: 'was told by SDO' })
    expect([a.take(), b.take()]).toEqual([[], ['60b: 2b 40 60 00 02 00 00 00']])
  })

  it('a controlword can go to chosen buses', () => {
    link.control('quick stop', [1])
    expect([a.take(), b.take()]).toEqual([[], ['181: 02 00']])
  })
})

describe('a bus that does not take frames', () => {
  const ACTS = [
    ['SYNC', () => link.sync()],
    ['heartbeat', () => link.heartbeat()],
    ['NMT', () => link.network('start')],
    ['controlword', () => link.control('quick stop')],
    ['setpoints', () => link.cycle(0, degrees(1, 1)).notSent],
  ] as const

  it.each(ACTS)('%s: says which bus and why, and serves the other', (_, act) => {
    flowing()
    a.answer = 'queue full'
    expect(act()).toEqual([{ bus: 0, reason: 'queue full' }])
    expect(b.take()).toHaveLength(1)
  })

  it.each(ACTS)('%s: an adapter that throws is down, and the other is served', (_, act) => {
    flowing()
    a.answer = new Error('input/output error')
    expect(act()).toEqual([{ bus: 0, reason: 'down' }])
    expect(b.take()).toHaveLength(1)
  })

  it('keeps the joint held at the last setpoint that was taken', () => {
    flowing()
    a.answer = 'down'
    link.cycle(0, degrees(1.02, 1.02))
    const held = new Float64Array(2)
    link.held(held)
    expect(held[0]! / DEG).toBeCloseTo(1, 3)
    expect(held[1]! / DEG).toBeCloseTo(1.02, 9)
  })

  it('throwing at everything does not keep a halt from the other bus', () => {
    flowing()
    a.answer = new Error('input/output error')
    b.waiting = 2
    expect(link.halt()).toEqual([0, 2])
  })

  it('whose count of waiting frames cannot be had gets no setpoints', () => {
    flowing()
    Object.defineProperty(a, 'waiting', {
      get: () => {
        throw new Error('input/output error')
      },
    })
    expect(link.sync()).toEqual([])
    expect(link.cycle(0, degrees(1, 1)).dropped).toEqual([0])
  })
})

describe('halt and SDO', () => {
  it('ends the SDO scripts of every drive', () => {
    for (const drive of link.drives)
      cia402(drive).sdo.run(
        seed(() => {}),
        0,
      )
    expect(link.drives.every((d) => d.busy)).toBe(true)
    link.halt()
    expect(link.drives.some((d) => d.busy)).toBe(false)
  })
})

describe('what a drive says', () => {
  const drive = () => cia402(link.drives[0]!)

  it('is state, position and time', () => {
    link.onFrame(0, feedbackFrame(FEEDBACK, ENABLED | FOLLOWS, 1564, 0), 7e6)
    expect(drive()).toMatchObject({
      state: 'operation enabled',
      follows: true,
      counts: 1564,
      feedbackAt: 7e6,
    })
    // 364 counts of 131072 a turn.
    expect(drive().position).toBeCloseTo((364 / 131072) * 2 * Math.PI, 12)
  })

  it.each([
    ['operation enabled without bit 12', ENABLED],
    ['bit 12 in switched on', statusBits('switched on') | FOLLOWS],
    ['bit 12 in quick stop active', statusBits('quick stop active') | FOLLOWS],
  ])('does not follow: %s', (_, word) => {
    link.onFrame(0, feedbackFrame(FEEDBACK, word, 0, 0), 0)
    expect(drive().follows).toBe(false)
  })

  it('that is undefined is unknown, and no longer what it was before', () => {
    link.onFrame(0, feedbackFrame(FEEDBACK, ENABLED | FOLLOWS, 0, 0), 0)
    link.onFrame(0, feedbackFrame(FEEDBACK, 0x05 | FOLLOWS, 0, 0), 1)
    expect(drive()).toMatchObject({ state: 'unknown', follows: false })
  })

  it('counts only from its own frames, whole, on its own bus', () => {
    const good = feedbackFrame(FEEDBACK, ENABLED, 1564, 0)
    link.onFrame(1, good, 1)
    link.onFrame(0, { ...good, extended: true }, 2)
    link.onFrame(0, { ...good, remote: true }, 3)
    link.onFrame(0, frame(FEEDBACK, good.data.slice(0, 7)), 4)
    link.onFrame(0, { ...good, id: FEEDBACK + 1 }, 5)
    expect(drive().feedbackAt).toBe(Number.NEGATIVE_INFINITY)
    link.onFrame(0, good, 6)
    expect(drive().feedbackAt).toBe(6)
  })

  // CiA 301: 05h operational, 7Fh pre-operational; bit 7 does not count.
  it('of its node comes from its heartbeat', () => {
    link.onFrame(0, frame(0x70b, Uint8Array.of(0x05)), 0)
    expect(drive().node).toBe('operational')
    link.onFrame(0, frame(0x70b, Uint8Array.of(0xff)), 0)
    expect(drive().node).toBe('pre-operational')
  })
})
