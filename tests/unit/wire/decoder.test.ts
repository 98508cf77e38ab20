import { beforeEach, describe, expect, it } from 'vitest'
import type { BusSettings, DriveReports, Joint } from '../../../src/files/rig.js'
import { randomStream } from '../../../src/random.js'
import { frameBits } from '../../../src/wire/bits.js'
import { heartbeatFrame, nmtFrame, SYNC_FRAME } from '../../../src/wire/cia402/network.js'
import { OBJECT } from '../../../src/wire/cia402/objects.js'
import { controlwordFrame, feedbackFrame, setpointFrame } from '../../../src/wire/cia402/process.js'
import { toCounts } from '../../../src/wire/cia402/scale.js'
import { readReply, readRequest } from '../../../src/wire/cia402/sdo.js'
import { Decoder } from '../../../src/wire/decoder.js'
import { type Frame, frame } from '../../../src/wire/frame.js'
import type { WireObservation } from '../../../src/wire/observation.js'

const COUNTS_PER_RADIAN = 1000

function busOf(
  index: number,
  controlword: number | null,
  reports: DriveReports | null = null,
  owner: BusSettings['owner'] = 'harness',
): BusSettings {
  return {
    index,
    name: `bus ${index}`,
    address: { kind: 'mock' },
    bitrate: 1_000_000,
    serialRate: 115_200,
    controlword,
    queue: 32,
    reports,
    owner,
  }
}

function jointOf(index: number, bus: number, node: number, sign: 1 | -1 = 1, zero = 0): Joint {
  const still = { at: [0, 0, 0], turn: [0, 0, 0] } as const
  return {
    index,
    name: `arm.joint${index}`,
    arm: 0,
    origin: still,
    axis: [0, 0, 1],
    limits: { lower: -3, upper: 3, speed: 3, acceleration: 30, torque: 30 },
    body: null,
    train: { rotor: 0, viscous: 0, coulomb: [0, 0] },
    rating: null,
    wire: { protocol: 'cia402', bus, node, countsPerRadian: COUNTS_PER_RADIAN, sign, zero, ratedTorque: 20 },
  }
}

/** Bus 0: joints 0 and 1 (turned round) at nodes 11 and 12, shared controlword. Bus 1: joint 2 at node 11, its own. */
const RIG = {
  buses: [busOf(0, 0x181), busOf(1, null)],
  joints: [jointOf(0, 0, 11), jointOf(1, 0, 12, -1, 500), jointOf(2, 1, 11)],
}

let observations: WireObservation[]
let decoder: Decoder

/** What a frame says besides being a frame. */
function says(f: Frame, { bus = 0, t = 0, sent = false } = {}): WireObservation[] {
  observations.length = 0
  decoder.see(bus, f, t, sent)
  const [first, ...rest] = observations
  expect(first).toEqual({ kind: 'frame', t, bus, id: f.id, sent, bits: frameBits(f) })
  return rest
}

beforeEach(() => {
  observations = []
  decoder = new Decoder(RIG, (o) => observations.push(o))
})

describe('a cycle, as a transcript', () => {
  it('pairs setpoint and feedback by SYNC', () => {
    // 20 units of 6077h are 20 thousandths of 20 N m.
    const enabled = 0x1637
    expect(says(setpointFrame(0x20b, 1500), { t: 1, sent: true })).toEqual([
      { kind: 'setpoint', t: 1, joint: 0, index: 0, position: 1.5 },
    ])
    expect(says(SYNC_FRAME, { t: 2, sent: true })).toEqual([{ kind: 'sync', t: 2, bus: 0, index: 0 }])
    expect(says(feedbackFrame(0x18b, enabled, 1499, 20), { t: 3 })).toEqual([
      { kind: 'feedback', t: 3, joint: 0, index: 0, position: 1.499, torque: 0.4 },
      { kind: 'state', t: 3, joint: 0, state: 'operation enabled', follows: true, word: enabled },
    ])
    expect(says(setpointFrame(0x20b, 1600), { t: 4, sent: true })).toEqual([
      { kind: 'setpoint', t: 4, joint: 0, index: 1, position: 1.6 },
    ])
    expect(says(SYNC_FRAME, { t: 5, sent: true })).toEqual([{ kind: 'sync', t: 5, bus: 0, index: 1 }])
    expect(says(feedbackFrame(0x18b, enabled, 1590, 0), { t: 6 })).toEqual([
      { kind: 'feedback', t: 6, joint: 0, index: 1, position: 1.59, torque: 0 },
    ])
  })

  it('gives feedback before the first SYNC the index -1', () => {
    expect(says(feedbackFrame(0x18b, 0x0250, 0, 0))[0]).toMatchObject({ kind: 'feedback', index: -1 })
  })

  it('turns position and torque round where the binding says so', () => {
    const joint = 1
    expect(says(feedbackFrame(0x18c, 0x0250, 1500, 50))[0]).toMatchObject({ joint, position: -1, torque: -1 })
    expect(says(feedbackFrame(0x18c, 0x0250, -500, -50))[0]).toMatchObject({ joint, position: 1, torque: 1 })
    expect(says(setpointFrame(0x20c, -500), { sent: true })[0]).toMatchObject({ joint, position: 1 })
  })

  it('reads what a drive reports, object by object, little end first', () => {
    const object = { index: 0x2030, sub: 0, signed: true, scale: 0.1, offset: -40 } as const
    const reports: DriveReports = {
      every: 20,
      objects: [
        { ...object, what: 'temperature', bytes: 2 },
        { ...object, what: 'voltage', bytes: 4, signed: false, scale: 1e-3, offset: 0 },
        { ...object, what: 'current', bytes: 1, scale: 0.5, offset: 0 },
      ],
    }
    decoder = new Decoder({ ...RIG, buses: [busOf(0, 0x181, reports), busOf(1, null)] }, (o) =>
      observations.push(o),
    )
    // 600 and 24 123 (CiA 402 has 6079h in mV), and -3.
    const report = frame(0x28c, Uint8Array.of(0x58, 0x02, 0x3b, 0x5e, 0x00, 0x00, 0xfd))
    expect(says(report, { t: 4 })).toEqual([
      { kind: 'report', t: 4, joint: 1, what: 'temperature', value: 20 },
      { kind: 'report', t: 4, joint: 1, what: 'voltage', value: expect.closeTo(24.123, 9) },
      { kind: 'report', t: 4, joint: 1, what: 'current', value: -1.5 },
    ])
    expect(says(frame(0x28c, new Uint8Array(8)))).toEqual([{ kind: 'strange', t: 0, bus: 0, id: 0x28c }])
    expect(says(report, { bus: 1 })).toEqual([{ kind: 'strange', t: 0, bus: 1, id: 0x28c }])
  })

  it('counts the SYNCs of each bus by itself', () => {
    says(SYNC_FRAME, { sent: true })
    says(SYNC_FRAME, { sent: true })
    expect(says(SYNC_FRAME, { bus: 1, sent: true })).toEqual([{ kind: 'sync', t: 0, bus: 1, index: 0 }])
    expect(says(setpointFrame(0x20b, 0), { bus: 1, sent: true })[0]).toMatchObject({ joint: 2, index: 1 })
    expect(says(setpointFrame(0x20b, 0), { bus: 0, sent: true })[0]).toMatchObject({ joint: 0, index: 2 })
  })
})

describe('drive state', () => {
  const states = (word: number): WireObservation[] =>
    says(feedbackFrame(0x18b, word, 0, 0)).filter((o) => o.kind !== 'feedback')

  it('is said when the state or "follows" changes, and only then', () => {
    expect(states(0x0250)).toMatchObject([{ state: 'switch on disabled', follows: false, word: 0x0250 }])
    expect(states(0x0240)).toEqual([]) // voltage went: not a change of state
    expect(states(0x0631)).toMatchObject([{ state: 'ready to switch on' }])
    expect(states(0x0633)).toMatchObject([{ state: 'switched on' }])
    expect(states(0x0637)).toMatchObject([{ state: 'operation enabled', follows: false }])
    expect(states(0x1637)).toMatchObject([{ state: 'operation enabled', follows: true }])
    expect(states(0x1637)).toEqual([])
    expect(states(0x0617)).toMatchObject([{ state: 'quick stop active', follows: false }])
    expect(states(0x0218)).toMatchObject([{ state: 'fault', follows: false }])
  })

  it('is kept for each joint by itself', () => {
    expect(states(0x0250)).toHaveLength(1)
    expect(says(feedbackFrame(0x18c, 0x0250, 500, 0))).toMatchObject([
      { kind: 'feedback' },
      { kind: 'state', joint: 1 },
    ])
  })

  it('is unknown when the standard does not define it, said once, and the state said again when it returns', () => {
    states(0x0637)
    expect(states(0x0601)).toEqual([
      { kind: 'state', t: 0, joint: 0, state: 'unknown', follows: false, word: 0x0601 },
    ])
    expect(states(0x0605)).toEqual([])
    expect(states(0x0637)).toMatchObject([{ state: 'operation enabled' }])
  })
})

describe('network management, control and emergencies', () => {
  it('reads the shared controlword for all drives of the bus', () => {
    expect(says(controlwordFrame(0x181, 0x0002), { sent: true })).toEqual([
      { kind: 'control', t: 0, bus: 0, joint: -1, command: 'quick stop', word: 0x0002, sent: true },
    ])
    expect(says(controlwordFrame(0x30b, 0x0002))).toMatchObject([{ kind: 'strange', id: 0x30b }])
  })

  it("reads a drive's own controlword where none is shared", () => {
    expect(says(controlwordFrame(0x30b, 0x000f), { bus: 1, sent: true })).toEqual([
      { kind: 'control', t: 0, bus: 1, joint: 2, command: 'enable operation', word: 0x000f, sent: true },
    ])
    expect(says(controlwordFrame(0x181, 0x000f), { bus: 1 })).toMatchObject([{ kind: 'strange', id: 0x181 }])
  })

  it('looks only at the bits of a controlword that matter', () => {
    expect(says(controlwordFrame(0x181, 0x0004), { sent: true })).toMatchObject([
      { command: 'disable voltage' },
    ])
    expect(says(controlwordFrame(0x181, 0x000e), { sent: true })).toMatchObject([{ command: 'shutdown' }])
    expect(says(controlwordFrame(0x181, 0x0087), { sent: true })).toMatchObject([{ command: 'fault reset' }])
  })

  it('reads NMT commands, also for one node, also unknown ones', () => {
    expect(says(nmtFrame('start', 0), { sent: true })).toEqual([
      { kind: 'nmt', t: 0, bus: 0, node: 0, command: 'start' },
    ])
    expect(says(nmtFrame('pre-operational', 12), { sent: true })).toMatchObject([
      { node: 12, command: 'pre-operational' },
    ])
    expect(says(frame(0, Uint8Array.of(77, 3)), { sent: true })).toMatchObject([
      { node: 3, command: 'unknown' },
    ])
  })

  it('reads heartbeats of drives and of others', () => {
    expect(says(heartbeatFrame(11, 'boot-up'))).toEqual([
      { kind: 'heartbeat', t: 0, bus: 0, node: 11, joint: 0, state: 'boot-up' },
    ])
    expect(says(heartbeatFrame(11, 'operational'), { bus: 1 })).toMatchObject([{ node: 11, joint: 2 }])
    expect(says(heartbeatFrame(127, 'operational'), { sent: true })).toMatchObject([
      { node: 127, joint: -1, state: 'operational' },
    ])
    expect(says(frame(0x70b, Uint8Array.of(0xcb)))).toMatchObject([{ state: 'unknown' }])
    expect(says(frame(0x700, Uint8Array.of(5)))).toMatchObject([{ kind: 'strange' }])
  })

  it('reads emergencies of drives', () => {
    expect(says(frame(0x08c, Uint8Array.of(0x11, 0x86, 0x20, 0, 0, 0, 0, 0)))).toEqual([
      { kind: 'emergency', t: 0, bus: 0, joint: 1, code: 0x8611, register: 0x20 },
    ])
    expect(says(frame(0x090, new Uint8Array(8)))).toMatchObject([{ kind: 'strange', id: 0x090 }])
  })

  it('makes nothing of SDO messages of the drives, and wonders at those of others', () => {
    expect(says(readRequest(11, OBJECT.mode), { sent: true })).toEqual([])
    expect(says(readReply(11, OBJECT.mode, 8))).toEqual([])
    expect(says(readReply(99, OBJECT.mode, 8))).toMatchObject([{ kind: 'strange' }])
  })
})

describe('a second sender', () => {
  const ours: Frame[] = [
    SYNC_FRAME,
    nmtFrame('stop', 0),
    setpointFrame(0x20b, 1000),
    controlwordFrame(0x181, 0x000f),
    readRequest(11, OBJECT.mode),
    heartbeatFrame(127, 'operational'),
  ]

  it.each(ours)(
    'of what only the harness may send ($id) is foreign, whatever its length, and nothing else',
    (f) => {
      const foreign = [{ kind: 'foreign', t: 3, bus: 0, id: f.id }]
      expect(says(f, { t: 3 })).toEqual(foreign)
      for (let length = 0; length <= 8; length++)
        expect(says(frame(f.id, new Uint8Array(length)), { t: 3 })).toEqual(foreign)
      expect(says(f, { t: 3, sent: true })).not.toContainEqual(expect.objectContaining({ kind: 'foreign' }))
    },
  )

  it("is foreign on a drive's own controlword where none is shared", () => {
    expect(says(controlwordFrame(0x30b, 0x000f), { bus: 1 })).toMatchObject([{ kind: 'foreign', id: 0x30b }])
  })

  it('leaves no trace: its SYNC is not counted', () => {
    says(SYNC_FRAME)
    expect(says(SYNC_FRAME, { sent: true })).toMatchObject([{ index: 0 }])
  })

  it('is none who sends what drives send, or asks for a frame (remote)', () => {
    for (const f of [feedbackFrame(0x18b, 0x0250, 0, 0), heartbeatFrame(11, 'operational')])
      expect(says(f)).not.toContainEqual(expect.objectContaining({ kind: 'foreign' }))
    expect(says({ ...SYNC_FRAME, remote: true })).toMatchObject([{ kind: 'strange' }])
  })
})

describe('what is not believed', () => {
  const good: Frame[] = [
    nmtFrame('start', 0),
    SYNC_FRAME,
    setpointFrame(0x20b, 1),
    feedbackFrame(0x18b, 0x0250, 1, 1),
    controlwordFrame(0x181, 0x000f),
    heartbeatFrame(11, 'operational'),
    frame(0x08b, new Uint8Array(8)),
    readReply(11, OBJECT.mode, 8),
  ]

  it.each(good)('an identifier of the rig ($id) with any other length, remote or extended', (f) => {
    const strange = [{ kind: 'strange', t: 0, bus: 0, id: f.id }]
    for (let length = 0; length <= 8; length++) {
      if (length === f.data.length) continue
      expect(says(frame(f.id, new Uint8Array(length)), { sent: true }), `length ${length}`).toEqual(strange)
    }
    expect(says({ ...f, remote: true })).toEqual(strange)
    expect(says({ ...f, extended: true })).toEqual(strange)
    // None of them left a trace: the next SYNC is the first, the next statusword is news.
    expect(says(SYNC_FRAME, { sent: true })).toMatchObject([{ index: 0 }])
    expect(says(feedbackFrame(0x18b, 0, 0, 0))[1]).toMatchObject({ kind: 'state' })
  })

  it('unknown identifiers: of all 2048, exactly those of the rig are known', () => {
    const joints = (base: number): number[] => [base + 11, base + 12]
    const known = [0x000, 0x080, 0x181, ...[0x080, 0x180, 0x200, 0x580, 0x600].flatMap(joints)]
    for (let node = 1; node <= 127; node++) known.push(0x700 + node)
    const found: number[] = []
    for (let id = 0; id < 2048; id++) {
      // Right with one length at most.
      const strange = [0, 1, 2, 4, 8].map((n) =>
        says(frame(id, new Uint8Array(n)), { sent: true }).some((o) => o.kind === 'strange'),
      )
      if (strange.includes(false)) found.push(id)
    }
    expect(found).toEqual(known.sort((a, b) => a - b))
  })

  it('an extended identifier beyond 11 bits', () => {
    expect(says({ id: 0x1fffffff, extended: true, remote: false, data: new Uint8Array(8) })).toEqual([
      { kind: 'strange', t: 0, bus: 0, id: 0x1fffffff },
    ])
  })

  it('a standard identifier beyond 11 bits, which must not fall into the table of the next bus', () => {
    expect(says(frame(2048 + 0x080, new Uint8Array(0)))).toMatchObject([{ kind: 'strange' }])
    expect(says(SYNC_FRAME, { sent: true })).toMatchObject([{ index: 0 }])
  })

  it('a rig that gives one identifier two meanings', () => {
    const buses = [busOf(0, 0x18b)]
    expect(() => new Decoder({ buses, joints: [jointOf(0, 0, 11)] }, () => {})).toThrow(
      /18bh of bus bus 0.*control/,
    )
    const twice = { buses: [busOf(0, null)], joints: [jointOf(0, 0, 11), jointOf(1, 0, 11)] }
    expect(() => new Decoder(twice, () => {})).toThrow(/20bh/)
  })
})

describe('properties, fixed seeds', () => {
  const random = randomStream(5, 'decoder')
  const whole = (n: number): number => Math.floor(random.uniform() * n)

  it('every position comes back within half a count, and every count exactly', () => {
    for (let n = 0; n < 5000; n++) {
      const joint = whole(3)
      const { bus, node } = RIG.joints[joint]!.wire
      const counts = whole(2 ** 32) | 0
      const [setpoint] = says(setpointFrame(0x200 + node, counts), { bus, sent: true })
      const [feedback] = says(feedbackFrame(0x180 + node, 0x0250, counts, 0), { bus })
      if (setpoint?.kind !== 'setpoint' || feedback?.kind !== 'feedback') throw new Error('not decoded')
      expect(feedback.position).toBe(setpoint.position)
      expect(toCounts(RIG.joints[joint]!.wire, setpoint.position)).toBe(counts)

      const position = (random.uniform() - 0.5) * 6
      const [read] = says(setpointFrame(0x200 + node, toCounts(RIG.joints[joint]!.wire, position)), {
        bus,
        sent: true,
      })
      if (read?.kind !== 'setpoint') throw new Error('not decoded')
      expect(Math.abs(read.position - position)).toBeLessThanOrEqual(0.5 / COUNTS_PER_RADIAN + 1e-12)
    }
  })

  it('any frame gives one `frame` first, nothing throws, times pass through, and two decoders agree', () => {
    const other: WireObservation[] = []
    const second = new Decoder(RIG, (o) => other.push(o))
    let syncs = 0
    for (let n = 0; n < 20_000; n++) {
      const extended = whole(20) === 0
      // Mostly identifiers of the rig.
      const ids = [0, 0x080, 0x181, 0x18b, 0x18c, 0x20b, 0x20c, 0x58b, 0x60b, 0x70b, 0x08b, whole(2048)]
      const f: Frame = {
        id: extended ? whole(2 ** 29) : ids[whole(ids.length)]!,
        extended,
        remote: whole(20) === 0,
        data: Uint8Array.from({ length: [0, 1, 2, 4, 8, whole(9)][whole(6)]! }, () => whole(256)),
      }
      const bus = whole(2)
      const sent = whole(8) > 0
      const rest = says(f, { bus, t: n, sent })
      expect(rest.length).toBeLessThanOrEqual(2)
      for (const o of rest) expect(o.t).toBe(n)
      second.see(bus, f, n, sent)
      expect(other.splice(0)).toEqual(observations)
      if (bus === 0 && rest[0]?.kind === 'sync') expect(rest[0].index).toBe(syncs++)
    }
    expect(syncs).toBeGreaterThan(100)
  })
})

describe('a bus that the driver owns', () => {
  const DRIVEN = { buses: [busOf(0, 0x181, null, 'driver')], joints: [jointOf(0, 0, 11)] }
  beforeEach(() => {
    decoder = new Decoder(DRIVEN, (o) => observations.push(o))
  })

  it("takes the driver's SYNC, setpoints, NMT, SDO and controlwords for what they say", () => {
    expect(says(setpointFrame(0x20b, 1500))).toMatchObject([{ kind: 'setpoint', joint: 0, index: 0 }])
    expect(says(SYNC_FRAME)).toMatchObject([{ kind: 'sync', index: 0 }])
    expect(says(controlwordFrame(0x30b, 0x000f))).toEqual([
      { kind: 'control', t: 0, bus: 0, joint: 0, command: 'enable operation', word: 15, sent: false },
    ])
    expect(says(nmtFrame('start', 0))).toMatchObject([{ kind: 'nmt', command: 'start' }])
    expect(says(frame(0x60b, new Uint8Array(8)))).toEqual([])
  })

  // CiA 301, 7.2.4.3: the client's command specifier is the upper three bits of the first byte.
  it.each([
    ['2b 5a 60 00 02 00 00 00', 0x605a, 0, 'an expedited download'],
    ['21 02 16 01 10 00 00 00', 0x1602, 1, 'a download in segments'],
    ['c2 10 10 01 20 00 00 00', 0x1010, 1, 'a block download'],
  ])('%s begins to write', (bytes, index, sub) => {
    const request = frame(0x60b, Buffer.from(bytes.replaceAll(' ', ''), 'hex'))
    expect(says(request)).toEqual([{ kind: 'written', t: 0, joint: 0, index, sub }])
    expect(says(request, { sent: true })).toEqual([])
  })

  it.each([
    ['40 5a 60 00 00 00 00 00', 'an upload'],
    ['60 00 00 00 00 00 00 00', 'a segment of an upload'],
    ['0d 31 00 00 00 00 00 00', 'a segment of a download that has begun'],
    ['a0 5a 60 00 10 00 00 00', 'a block upload'],
    ['c1 00 00 00 00 00 00 00', 'the end of a block download'],
    ['80 5a 60 00 00 00 00 06', 'an abort'],
  ])('%s does not: %s', (bytes) => {
    expect(says(frame(0x60b, Buffer.from(bytes.replaceAll(' ', ''), 'hex')))).toEqual([])
  })

  it('keeps the stop and our heartbeat for the harness', () => {
    expect(says(controlwordFrame(0x181, 0x0002), { sent: true })).toMatchObject([
      { kind: 'control', joint: -1, command: 'quick stop', sent: true },
    ])
    expect(says(controlwordFrame(0x181, 0x000f))).toEqual([{ kind: 'foreign', t: 0, bus: 0, id: 0x181 }])
    expect(says(frame(0x77f, Uint8Array.of(5)))).toMatchObject([{ kind: 'foreign', id: 0x77f }])
  })
})
