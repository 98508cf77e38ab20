/** A survey of mock buses in virtual time: simulated arms that nobody has set up, that a bench runs, and that lack something. */
import { describe, expect, it } from 'vitest'
import { Bench } from '../../../src/bench/bench.js'
import type { Bus } from '../../../src/bus/contract.js'
import { MockBus } from '../../../src/bus/mock.js'
import { nanos, VirtualTime } from '../../../src/clock.js'
import { ReferenceDriver } from '../../../src/driver/reference.js'
import { loadRig, loadScenario } from '../../../src/files/load.js'
import { createPlant } from '../../../src/plant/plant.js'
import { Asker } from '../../../src/survey/ask.js'
import { hints } from '../../../src/survey/hints.js'
import { Listener } from '../../../src/survey/listen.js'
import { isThere } from '../../../src/survey/picture.js'
import { surveyText } from '../../../src/survey/screen.js'
import { watchSchemas } from '../../../src/watch/settings.js'
import { frame } from '../../../src/wire/frame.js'
import { DEMO_RIG, scenarioText } from '../../setup/runs.js'

function surveyed() {
  const rig = loadRig(DEMO_RIG, 'rig.yaml', watchSchemas)
  const time = new VirtualTime()
  const mocks = rig.buses.map((bus) => new MockBus(time, bus))
  const plant = createPlant(rig, time, (bus, name) => mocks[bus]!.attach(name, { order: 'by identifier' }), 1)
  const ports: Bus[] = mocks.map((m) => m.attach('survey'))
  const listener = new Listener(rig)
  const asker = new Asker(rig, ports)
  const listen = (): void => {
    ports.forEach((port, b) => {
      port.onFrame((f, t) => {
        listener.frame(b, f, t)
        asker.onFrame(b, f, t)
      })
      port.onReport((r) => listener.report(b, r))
    })
  }
  const pass = (s: number, tick = (): void => {}): void => {
    const end = time.now() + nanos(s)
    for (let t = time.now(); t < end; t += 5e6) {
      time.runUntil(t)
      tick()
    }
    time.runUntil(end)
  }
  /** Another bench sets the arms up and holds them. */
  const otherBench = (): Bench =>
    new Bench({
      rig,
      scenario: loadScenario(scenarioText('slow-ahead'), 'scenario.yaml', rig),
      seed: 1,
      clock: time,
      buses: mocks.map((m) => m.attach('bench')),
      driver: new ReferenceDriver(rig),
      plant: null,
      log: { frame: () => {}, event: () => {} },
    })
  return { rig, time, mocks, plant, listener, asker, listen, pass, otherBench }
}

describe('a passive survey', () => {
  it('sends nothing, and says of drives that nobody has set up to ask them', () => {
    const s = surveyed()
    const others = s.mocks.map((m) => m.attach('ear'))
    const heard: number[] = []
    s.pass(0.5)
    for (const ear of others) ear.onFrame((f) => heard.push(f.id))
    s.listen()
    s.pass(2)
    expect(heard).toEqual([])
    const picture = s.listener.picture(2)
    expect(picture.joints.some(isThere)).toBe(false)
    const first = hints(picture, s.rig)
    expect(first.map((h) => h.place)).toEqual(['port-can', 'starboard-can'])
    expect(first[0]!.look).toMatch(/--ask/)
  })

  it('sees nodes boot, and of running arms rate, jitter, state, position, load and the other master', () => {
    const s = surveyed()
    const bench = s.otherBench()
    for (let k = 0; bench.stage !== 'play'; k++) {
      s.time.runUntil(nanos(k * 0.005))
      bench.tick()
    }
    s.listen()
    s.pass(1, () => bench.tick())
    const picture = s.listener.picture(1)
    for (const joint of picture.joints) {
      expect(joint.feedback.rate).toBeCloseTo(200, -1)
      expect(joint.feedback.p50).toBeCloseTo(0.005, 3)
      expect(joint.state).toBe('operation enabled')
      expect(joint.inside).toBe(true)
      expect(joint.heartbeat.rate).toBeCloseTo(20, -1)
      expect(joint.heartbeat.state).toBe('operational')
    }
    const truth = new Float64Array(12)
    s.plant.witness(s.time.now(), truth)
    picture.joints.forEach((j, i) => {
      expect(Math.abs(j.position! - truth[i]!)).toBeLessThan(0.02)
    })
    const [bus] = picture.buses
    // 200 times: SYNC, 6 setpoints of 4 bytes, 6 feedbacks of 8: 51 + 6 x about 84 + 6 x about 121 bits.
    expect(bus!.load).toBeGreaterThan(0.2)
    expect(bus!.load).toBeLessThan(0.32)
    expect(bus!.masters.map((m) => m.id)).toEqual([0x080, 0x20b, 0x20c, 0x20d, 0x20e, 0x20f, 0x210, 0x77f])
    expect(bus!.batches).toBeNull()
    const seen = hints(picture, s.rig).map((h) => h.seen)
    expect(seen).toContain('somebody else sends 80h, which only a harness sends')
    expect(seen).toContain('gives torque: it is enabled')
  })

  it('names a joint that is silent among others that speak', () => {
    const s = surveyed()
    const bench = s.otherBench()
    for (let k = 0; bench.stage !== 'play'; k++) {
      s.time.runUntil(nanos(k * 0.005))
      bench.tick()
    }
    s.plant.fault({ fault: 'silent', place: 2, other: -1, amount: 0 }, true)
    s.pass(0.1)
    s.listen()
    s.pass(1, () => s.mocks[0]!.attach('sync').send(frame(0x80, new Uint8Array(0))))
    const picture = s.listener.picture(1)
    expect(picture.joints.filter((j) => !isThere(j)).map((j) => j.name)).toEqual(['port.elbow'])
    expect(hints(picture, s.rig)).toContainEqual({
      place: 'port.elbow',
      seen: 'says nothing',
      look: 'drives that nobody has set up may be quiet: ask them with --ask; else power, plug and node id',
    })
  })

  it('sees frames that come in batches, unknown identifiers and nodes of no joint', () => {
    const s = surveyed()
    const listener = s.listener
    const feedback = new Uint8Array(8)
    for (let ms = 0; ms < 1000; ms += 5) {
      // An adapter that hands over every 16 ms: three periods at once.
      const arrival = Math.ceil(ms / 16) * 16
      for (let n = 11; n <= 16; n++) listener.frame(0, frame(0x180 + n, feedback), arrival * 1e6 + n * 1e4)
    }
    listener.frame(1, frame(0x3a5, feedback), 1e6)
    listener.frame(1, { id: 0x18ff50e5, extended: true, remote: false, data: feedback }, 2e6)
    listener.frame(1, frame(0x700 + 42, Uint8Array.of(5)), 3e6)
    const picture = listener.picture(1)
    expect(picture.buses[0]!.batches).toBeCloseTo(0.016, 3)
    expect(picture.buses[1]!.unknown).toEqual([
      { id: 0x3a5, extended: false, rate: 1 },
      { id: 0x18ff50e5, extended: true, rate: 1 },
    ])
    expect(picture.buses[1]!.strangers).toEqual([{ node: 42, state: 'operational' }])
  })

  it('counts trouble and keeps the last state and counters', () => {
    const { listener, rig } = surveyed()
    const report = { state: 'passive', transmitErrors: 128, receiveErrors: 0 } as const
    for (let n = 0; n < 3; n++)
      listener.report(0, { ...report, trouble: 'no acknowledgement', says: 'nobody acknowledged' })
    listener.report(0, { ...report, transmitErrors: null, receiveErrors: null, trouble: null, says: '' })
    const picture = listener.picture(1)
    expect(picture.buses[0]).toMatchObject({ state: 'passive', transmitErrors: 128, receiveErrors: 0 })
    expect(hints(picture, rig)[0]).toMatchObject({ place: 'port-can', seen: 'no acknowledgement, 3 times' })
  })
})

describe('what a run needs', () => {
  const screen = { width: 80, colour: false }

  it('stands beside what was measured and what the bus carries; counters that nobody told are not known', () => {
    const { listener, rig } = surveyed()
    listener.report(1, { state: 'active', transmitErrors: 3, receiveErrors: null, trouble: null, says: '' })
    const text = surveyText(listener.picture(1), [], rig, 'heard', screen)
    const [, port, starboard] = text.replaceAll(/\s+/g, ' ').split(/-can mock /)
    expect(port).toMatch(/^active, load 0 %, 0 frames\/s, error counters not known a run needs /)
    expect(port).toContain(
      "1650 frames/s to the arms and 1320 from them, at most 313 of the bus's 1000 kbit/s joint",
    )
    expect(starboard).toMatch(/errors sent 3, received not known/)
    for (const line of text.split('\n')) expect(line.length).toBeLessThanOrEqual(80)
  })

  it('and what the serial port before it carries', () => {
    const { rig } = surveyed()
    const address = { kind: 'slcan', device: '/dev/ttyUSB0' } as const
    const buses = rig.buses.map((b) => ({ ...b, address, serialRate: 1e6 }))
    const picture = new Listener({ ...rig, buses }).picture(1)
    expect(picture.buses[0]!.capacity.line!.toArms.wanted).toBeCloseTo(306_000, 6)
    const text = surveyText(picture, [], { ...rig, buses }, 'heard', screen)
    expect(text.replaceAll(/\s+/g, ' ')).toContain(
      "of the port's 1000 kbit/s each way 306 and 410, half as much again",
    )
    for (const line of text.split('\n')) expect(line.length).toBeLessThanOrEqual(80)
  })

  it.each([
    [0, 1],
    [100, 0],
    [null, 0],
  ])('restart-ms %s gives %d hints', (restart, count) => {
    const { listener, rig } = surveyed()
    const found = hints(listener.picture(1, null, [restart]), rig)
    expect(found.filter((h) => h.place === 'port-can' && /restart-ms is off/.test(h.seen))).toHaveLength(
      count,
    )
  })
})

describe('an asking survey', () => {
  it('says that the queue is full when the bus takes nothing', () => {
    const s = surveyed()
    const full = (): Bus => Object.assign(s.mocks[0]!.attach('full'), { send: () => 'queue full' as const })
    const asker = new Asker(s.rig, [full(), s.mocks[1]!.attach('other')])
    asker.begin(s.time.now())
    const picture = s.listener.picture(1, asker)
    expect(picture.buses.map((b) => b.refusals)).toEqual([[{ why: 'queue full', count: 6 }], []])
    expect(hints(picture, s.rig)[0]).toMatchObject({
      place: 'port-can',
      seen: 'queue full: 6 of our own frames were not taken',
    })
  })

  it('hears from every drive who it is, its state and where it stands, and changes nothing', () => {
    const s = surveyed()
    s.pass(0.1)
    s.listen()
    s.asker.begin(s.time.now())
    let done = false
    s.pass(1, () => {
      done = s.asker.tick(s.time.now())
    })
    expect(done).toBe(true)
    const picture = s.listener.picture(1, s.asker)
    const truth = new Float64Array(12)
    s.plant.witness(s.time.now(), truth)
    picture.joints.forEach((j, i) => {
      expect(j.answer).toMatchObject({ answered: true, state: 'switch on disabled' })
      expect(Math.abs(j.position! - truth[i]!)).toBeLessThan(1e-3)
    })
    expect(hints(picture, s.rig)).toEqual([])
  })

  it('names the one that does not answer', () => {
    const s = surveyed()
    s.pass(0.1)
    s.plant.fault({ fault: 'silent', place: 7, other: -1, amount: 0 }, true)
    s.listen()
    s.asker.begin(s.time.now())
    s.pass(1, () => s.asker.tick(s.time.now()))
    const picture = s.listener.picture(1, s.asker)
    expect(picture.joints.filter((j) => !isThere(j)).map((j) => j.name)).toEqual(['starboard.shoulder'])
    expect(hints(picture, s.rig).map((h) => h.seen)).toEqual(['says nothing and does not answer'])
    const text = surveyText(picture, hints(picture, s.rig), s.rig, 'asked by SDO', {
      width: 80,
      colour: false,
    })
    expect(text).toMatch(/^ {2}starboard\.shoulder +NO ANSWER$/m)
    expect(text).toMatch(/11 of 12 joints are there; missing: starboard\.shoulder\n$/)
    for (const line of text.split('\n')) expect(line.length).toBeLessThanOrEqual(80)
  })
})
