/**
 * The stop on the bus, as a transcript: what leaves at which time while drives obey, are deaf, never come to rest or
 * cannot be seen, and while a bus takes nothing. Controlwords: CiA 402, quick stop 02h, disable voltage 00h.
 */
import { readFileSync } from 'node:fs'
import { beforeEach, describe, expect, it } from 'vitest'
import { loadRig } from '../../../src/files/load.js'
import { JointLink } from '../../../src/link/link.js'
import { StopSequence } from '../../../src/stop/sequence.js'
import { feedbackFrame } from '../../../src/wire/cia402/process.js'
import { statusBits } from '../../../src/wire/cia402/state.js'
import type { DriveState } from '../../../src/wire/observation.js'
import { watchSchemas } from '../files/watch-schemas.js'
import { FakeBus } from '../link/fake-bus.js'

// Joint 0 on bus can-a (controlword 30Bh, SDO 60Bh), joint 1 on can-b (181h, 60Bh). Time-out 1 s; still: below 0.6 deg/s for
// 100 ms; speed limit 180 deg/s and quick stop 1500 deg/s2, so that a quick stop takes 120 ms at most.
const rig = loadRig(
  readFileSync(new URL('../files/small-rig.yaml', import.meta.url), 'utf8'),
  'small-rig.yaml',
  watchSchemas,
)
const MS = 1e6
const TICK = 5 * MS
const QUICK_STOP = ['30b: 02 00', '181: 02 00']
const DISABLE = ['30b: 00 00', '181: 00 00']
const sdo = (word: 0 | 2): string => `60b: 2b 40 60 00 0${word} 00 00 00`

/** What a drive does while the stop is under way: its state and position, or null: it is not heard of. */
type Says = (t: number) => { state: DriveState; counts: number } | null

const standing =
  (state: DriveState): Says =>
  () => ({ state, counts: 1200 })
/** 100 counts a tick: 20 000 counts/s of 131072 or 65536 a turn, some 50 to 100 deg/s. */
const moving =
  (state: DriveState): Says =>
  (t) => ({ state, counts: (100 * t) / TICK })

let buses: [FakeBus, FakeBus]
let link: JointLink
let stop: StopSequence
let says: [Says, Says]
let t: number

beforeEach(() => {
  buses = [new FakeBus('can-a'), new FakeBus('can-b')]
  link = new JointLink(rig, buses)
  stop = new StopSequence(rig, link)
  says = [moving('operation enabled'), moving('operation enabled')]
  t = 10 * TICK
  hear()
})

function hear(): void {
  says.forEach((of, bus) => {
    const said = of(t)
    if (said) link.onFrame(bus, feedbackFrame(0x18b, statusBits(said.state) | 0x1000, said.counts, 0), t)
  })
}

const take = (): string[] => buses.flatMap((bus) => bus.take())

/** One tick later; gives what it sent. */
function tick(): string[] {
  t += TICK
  hear()
  stop.tick(t)
  return take()
}

/** Ticks to `ms` after `from`; gives `ms: frames` for each tick that sent something. */
function upTo(ms: number, from: number): string[] {
  const lines: string[] = []
  while (t < from + ms * MS) {
    const sent = tick()
    if (sent.length > 0) lines.push(`${(t - from) / MS}: ${sent.join(', ')}`)
  }
  return lines
}

function begin(category: 0 | 1): number {
  stop.begin(category, t)
  return t
}

describe('begin', () => {
  it('takes back what waits, then tells every drive: quick stop', () => {
    buses[1].waiting = 4
    expect(stop.begin(1, t)).toEqual([0, 4])
    expect(buses.map((bus) => bus.withdrawals)).toEqual([1, 1])
    expect(take()).toEqual(QUICK_STOP)
  })

  it('in category 0 it is disable voltage at once', () => {
    begin(0)
    expect(take()).toEqual(DISABLE)
  })

  it('no setpoint leaves any more', () => {
    link.unsilence()
    begin(1)
    take()
    link.shadow(t)
    expect(take()).toEqual([])
  })
})

describe('category 1', () => {
  it('drives that obey are told once, and lose their power 100 ms after they stand', () => {
    const from = begin(1)
    take()
    says = [standing('quick stop active'), standing('quick stop active')]
    // They stand from the first tick on, 5 ms after the stop.
    expect(upTo(100, from)).toEqual([])
    expect(tick()).toEqual(DISABLE)
  })

  it('one still moving joint keeps the power on all', () => {
    const from = begin(1)
    take()
    says = [standing('quick stop active'), moving('quick stop active')]
    expect(upTo(995, from)).toEqual([])
  })

  it('never still: the time-out of 1 s takes the power away, to the tick', () => {
    const from = begin(1)
    take()
    says = [moving('quick stop active'), moving('quick stop active')]
    expect(upTo(995, from)).toEqual([])
    expect(tick()).toEqual(DISABLE)
  })

  it('drives that have all gone off by themselves get it at the next tick', () => {
    begin(1)
    take()
    says = [standing('switch on disabled'), standing('fault')]
    expect(tick()).toEqual(DISABLE)
  })

  it('that they were off before the stop counts for nothing: they must say so after it', () => {
    says = [standing('switch on disabled'), standing('switch on disabled')]
    hear()
    begin(1)
    take()
    stop.tick(t)
    expect(take()).toEqual([])
    expect(tick()).toEqual(DISABLE)
  })
})

describe('a deaf drive', () => {
  it('is told again every 20 ms, by controlword and by SDO; the others not by SDO', () => {
    const from = begin(1)
    take()
    says = [moving('quick stop active'), moving('operation enabled')]
    expect(upTo(60, from)).toEqual([
      `20: 30b: 02 00, 181: 02 00, ${sdo(2)}`,
      `40: 30b: 02 00, 181: 02 00, ${sdo(2)}`,
      `60: 30b: 02 00, 181: 02 00, ${sdo(2)}`,
    ])
    expect(buses.map((bus) => bus.sent.length)).toEqual([0, 0])
  })

  it('and no longer once it obeys', () => {
    const from = begin(1)
    take()
    says = [moving('quick stop active'), moving('operation enabled')]
    upTo(20, from)
    says = [moving('quick stop active'), moving('quick stop active')]
    expect(upTo(200, from)).toEqual([])
  })

  it('the SDO goes out on the bus of the drive that needs it', () => {
    const from = begin(1)
    take()
    says = [moving('operation enabled'), moving('quick stop active')]
    while (t < from + 15 * MS) tick()
    t += TICK
    hear()
    stop.tick(t)
    expect([buses[0].take(), buses[1].take()]).toEqual([['30b: 02 00', sdo(2)], ['181: 02 00']])
  })

  it('in category 0 is told disable voltage until it says that it is off: quick stop active is not enough', () => {
    const from = begin(0)
    take()
    says = [standing('switch on disabled'), standing('quick stop active')]
    expect(upTo(40, from)).toEqual([
      `20: 30b: 00 00, 181: 00 00, ${sdo(0)}`,
      `40: 30b: 00 00, 181: 00 00, ${sdo(0)}`,
    ])
    says = [standing('switch on disabled'), standing('switch on disabled')]
    expect(upTo(200, from)).toEqual([])
  })

  it('and silent ones are told on and on', () => {
    const from = begin(0)
    take()
    says = [() => null, () => null]
    expect(upTo(100, from).map((line) => line.split(':')[0])).toEqual(['20', '40', '60', '80', '100'])
  })
})

describe('a bus that takes nothing', () => {
  it('is owed the command: tried at every tick until it takes it, the other bus is left alone', () => {
    buses[1].answer = 'queue full'
    const from = begin(1)
    says = [moving('quick stop active'), moving('quick stop active')]
    expect(take()).toEqual(['30b: 02 00'])
    let tries = 0
    const send = buses[1].send.bind(buses[1])
    buses[1].send = (f) => {
      tries++
      return send(f)
    }
    expect(upTo(15, from)).toEqual([])
    expect(tries).toBe(3)
    buses[1].answer = 'sent'
    expect(tick()).toEqual(['181: 02 00'])
    expect(upTo(100, from)).toEqual([])
  })

  it('owes it disable voltage once that is due', () => {
    buses[0].answer = new Error('input/output error')
    const from = begin(1)
    says = [moving('quick stop active'), moving('quick stop active')]
    take()
    upTo(1000, from)
    buses[0].answer = 'sent'
    expect(tick()).toEqual(['30b: 00 00'])
  })
})

describe('a stop upon a stop', () => {
  it('category 0 after 1 takes the power away at once', () => {
    begin(1)
    take()
    stop.again(0, t)
    expect(take()).toEqual(DISABLE)
    says = [moving('quick stop active'), moving('quick stop active')]
    const from = t
    // Disable voltage, not quick stop, is what they must obey now.
    expect(upTo(20, from)).toEqual([`20: 30b: 00 00, ${sdo(0)}, 181: 00 00, ${sdo(0)}`])
  })

  it('category 1 after 0 makes it no softer', () => {
    begin(0)
    take()
    stop.again(1, t)
    expect(take()).toEqual(DISABLE)
  })

  it('category 1 after 1 says quick stop once more, and disable voltage once that is in force', () => {
    const from = begin(1)
    take()
    stop.again(1, t)
    expect(take()).toEqual(QUICK_STOP)
    says = [standing('quick stop active'), standing('quick stop active')]
    expect(upTo(105, from)).toEqual([`105: ${DISABLE.join(', ')}`])
    stop.again(1, t)
    expect(take()).toEqual(DISABLE)
  })

  it('before any stop, and after it was cleared, nothing is sent', () => {
    stop.again(0, t)
    expect(tick()).toEqual([])
    buses[0].answer = 'queue full'
    begin(1)
    take()
    stop.clear()
    buses[0].answer = 'sent'
    stop.again(0, t)
    expect(upTo(200, t)).toEqual([])
  })
})

describe('standstill', () => {
  const off = standing('switch on disabled')

  it('is seen 100 ms after the last joint stopped, in feedback that came after the stop', () => {
    const from = begin(1)
    says = [standing('quick stop active'), moving('quick stop active')]
    upTo(200, from)
    expect(stop.still(t)).toBe(false)
    says = [standing('quick stop active'), standing('quick stop active')]
    const stood = t
    upTo(100, stood)
    expect(stop.still(t)).toBe(false)
    tick()
    expect(stop.still(t)).toBe(true)
  })

  it.each([
    ['from before the stop', 0],
    ['during it', 30],
  ])('a joint unseen %s is still no sooner than its quick stop from full speed takes: 220 ms', (_, ms) => {
    says = [standing('quick stop active'), moving('operation enabled')]
    const from = begin(1)
    upTo(ms, from)
    says = [standing('quick stop active'), () => null]
    upTo(215, from)
    expect(stop.still(t)).toBe(false)
    // One tick more: 120 ms + 100 ms of the file's degrees are 220 ms and a rounding.
    upTo(225, from)
    expect(stop.still(t)).toBe(true)
  })

  it.each([
    [200, 20],
    [50, 40],
    [25, 80],
  ])(
    'at %d Hz a joint that moves is unseen once its feedback is %d ms old, and moves until then',
    (rate, ms) => {
      const slow = { ...rig, control: { rate, period: 1 / rate } }
      link = new JointLink(slow, buses)
      stop = new StopSequence(slow, link)
      says = [standing('quick stop active'), moving('quick stop active')]
      const from = begin(1)
      // Long enough for a joint that nobody sees.
      upTo(250, from)
      expect(stop.still(t)).toBe(false)
      const last = t
      // The other one is heard on: it stands.
      says = [standing('quick stop active'), () => null]
      while (t + TICK < last + ms * MS) tick()
      expect(stop.still(last + ms * MS - 1)).toBe(false)
      expect(stop.still(last + ms * MS)).toBe(true)
    },
  )

  it('a joint never seen is given that time too', () => {
    link = new JointLink(rig, buses)
    stop = new StopSequence(rig, link)
    says = [off, () => null]
    const from = begin(1)
    upTo(215, from)
    expect(stop.still(t)).toBe(false)
    // One tick more: 120 ms + 100 ms of the file's degrees are 220 ms and a rounding.
    upTo(225, from)
    expect(stop.still(t)).toBe(true)
  })

  it('what was seen before the stop is forgotten at each new one', () => {
    begin(1)
    says = [off, off]
    upTo(150, t)
    expect(stop.still(t)).toBe(true)
    stop.clear()
    begin(1)
    expect(stop.still(t)).toBe(false)
  })
})
