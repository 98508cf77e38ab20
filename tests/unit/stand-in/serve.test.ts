/** The stand-in on a mock bus in virtual time, with a real bench on the other side. */
import { describe, expect, it } from 'vitest'
import { Bench } from '../../../src/bench/bench.js'
import type { FrameListener } from '../../../src/bus/contract.js'
import { MockBus } from '../../../src/bus/mock.js'
import { nanos, VirtualTime } from '../../../src/clock.js'
import { ReferenceDriver } from '../../../src/driver/reference.js'
import type { BenchEvent } from '../../../src/files/event.js'
import { loadRig, loadScenario } from '../../../src/files/load.js'
import { faultLine, parseOrder } from '../../../src/stand-in/orders.js'
import { StandIn } from '../../../src/stand-in/serve.js'
import type { MotionChange } from '../../../src/stand-in/truth.js'
import { watchSchemas } from '../../../src/watch/settings.js'
import type { Frame } from '../../../src/wire/frame.js'
import { between } from '../../setup/between.js'
import { DEMO_RIG, scenarioText } from '../../setup/runs.js'

function served() {
  const rig = loadRig(DEMO_RIG, 'rig.yaml', watchSchemas)
  const time = new VirtualTime()
  const mocks = rig.buses.map((bus) => new MockBus(time, bus))
  const changes: MotionChange[] = []
  const power: { joint: number; on: boolean; t: number }[] = []
  const tasks = { asked: 0 }
  const listeners: FrameListener[] = []
  /** ns that the stand-in's machine stood still: the time on its clock that went by meanwhile. */
  const behind = { ns: 0 }
  const standstills: number[][] = []
  const standIn = new StandIn({
    rig,
    clock: {
      now: () => time.now() + behind.ns,
      at: (t, task) => {
        tasks.asked++
        time.at(t - behind.ns, task)
      },
    },
    buses: mocks.map((m) => {
      const port = m.attach('arms', { queue: 64 })
      return between(port, {
        onFrame: (listener) => {
          listeners.push(listener)
          port.onFrame(listener)
        },
      })
    }),
    seed: 1,
    onMotion: (c) => changes.push(c),
    onPower: (joint, on, t) => power.push({ joint, on, t }),
    onStandstill: (...told) => standstills.push(told),
  })
  const events: BenchEvent[] = []
  const bench = new Bench({
    rig,
    scenario: loadScenario(scenarioText('slow-ahead'), 'scenario.yaml', rig),
    seed: 1,
    clock: time,
    buses: mocks.map((m) => m.attach('bench')),
    driver: new ReferenceDriver(rig),
    plant: null,
    log: { frame: () => {}, event: (e) => events.push(e) },
  })
  let k = 0
  const run = (until: () => boolean): void => {
    for (; k < 60 / rig.control.period && !until(); k++) {
      time.runUntil(nanos(k * rig.control.period))
      bench.tick()
    }
  }
  /** A frame comes in on every bus. */
  const hear = (f: Frame): void => {
    for (const listener of listeners) listener(f, time.now())
  }
  return { rig, time, hear, standIn, behind, standstills, tasks, changes, power, events, bench, run }
}

describe('a stand-in', () => {
  it('tells of each motor that it has no power at first, is given it, and loses it in a stop', () => {
    const { rig, time, power, bench, run } = served()
    time.runUntil(1e6)
    expect(power).toEqual(rig.joints.map(({ index: joint }) => ({ joint, on: false, t: 0 })))
    run(() => bench.stage === 'play')
    power.length = 0
    const stopped = time.now()
    bench.onSignal('SIGTERM')
    run(() => bench.ended)
    expect(power.map((p) => p.joint).toSorted((a, b) => a - b)).toEqual(rig.joints.map((j) => j.index))
    expect(power.every((p) => !p.on && p.t > stopped)).toBe(true)
  })

  it('says when it was more than three tenths of a control period late, how often and how much at most, and nothing of less', () => {
    const { time, behind, standstills, rig } = served()
    const period = nanos(rig.control.period)
    time.runUntil(4 * period)
    behind.ns = 0.29 * period
    time.runUntil(20 * period)
    expect(standstills).toEqual([])
    behind.ns += 0.31 * period
    time.runUntil(21.5 * period)
    behind.ns += 1.5 * period
    time.runUntil(60 * period)
    expect(standstills).toHaveLength(1)
    const [times, longest] = standstills[0]!
    expect(times).toBe(2)
    expect(longest! / period).toBeCloseTo(1.5, 6)
  })

  it('is enabled and plays a scenario to its end like any arms', () => {
    const { standIn, bench, events, run, rig } = served()
    run(() => bench.stage === 'play')
    expect(standIn.states).toEqual(rig.joints.map(() => 'operation enabled'))
    bench.onStandstill(2, 7e6)
    run(() => bench.ended)
    // What it says while it plays is kept, and nothing comes behind the end.
    expect(events.filter((e) => e.kind === 'standstill')).toMatchObject([{ times: 2, longest: 7e6 }])
    bench.onStandstill(1, 5e6)
    expect(events.at(-1)).toMatchObject({ kind: 'end', reason: 'completed' })
    expect(standIn.states.every((s) => s !== 'operation enabled')).toBe(true)
    for (const { in: heard, out } of standIn.frames) {
      expect(heard).toBeGreaterThan(10_000)
      expect(out).toBeGreaterThan(10_000)
    }
  })

  it('tells by its own truth which joints move, and since when they rest', () => {
    const { changes, bench, run, time, standIn, rig } = served()
    run(() => bench.scenarioTime !== null && bench.scenarioTime > 5)
    expect(changes.some((c) => c.moving)).toBe(true)
    const stopped = time.now()
    bench.onSignal('SIGTERM')
    run(() => bench.ended)
    expect(rig.joints.map((_, j) => standIn.moving(j))).toEqual(rig.joints.map(() => false))
    const rests = changes.filter((c) => !c.moving && c.since > stopped)
    expect(rests.length).toBeGreaterThan(0)
    for (const { since } of rests) expect(since - stopped).toBeLessThan(nanos(0.5))
  })

  it('does the faults that it is ordered to do, until they are ended', () => {
    const { rig, standIn, bench, events, run } = served()
    run(() => bench.scenarioTime !== null && bench.scenarioTime > 4)
    standIn.order(parseOrder('fault jammed port.swing', rig))
    expect(standIn.faults).toEqual(['jammed port.swing'])
    const held = standIn.positions[0]!
    run(() => bench.scenarioTime! > 4.5)
    expect(Math.abs(standIn.positions[0]! - held)).toBeLessThan(1e-3)
    standIn.order(parseOrder('end jammed port.swing', rig))
    expect(standIn.faults).toEqual([])
    run(() => bench.scenarioTime! > 5)
    expect(Math.abs(standIn.positions[0]! - held)).toBeGreaterThan(1e-2)
    expect(events.some((e) => e.kind === 'stop')).toBe(false)
  })
})

describe('fresh arms', () => {
  it('stand where the rig starts them, without the faults and without the state of those before', () => {
    const { rig, standIn, bench, run, time } = served()
    const start = [...standIn.positions]
    run(() => bench.scenarioTime !== null && bench.scenarioTime > 4)
    standIn.order(parseOrder('fault silent port.elbow', rig))
    expect(standIn.positions[0]).not.toBeCloseTo(start[0]!, 2)
    standIn.order({ kind: 'anew' })
    expect(standIn.faults).toEqual([])
    time.runUntil(time.now() + nanos(1))
    expect([...standIn.positions].map((q, j) => Math.abs(q - start[j]!) < 1e-3)).toEqual(
      start.map(() => true),
    )
    // Nobody has set them up; nobody is there to obey the last setpoint.
    const out = standIn.frames.map((f) => f.out)
    time.runUntil(time.now() + nanos(1))
    expect(standIn.frames.map((f) => f.out)).toEqual(out)
  })

  it('are alone: those before have nothing more to do', () => {
    const inOneSecond = ({ time, tasks }: ReturnType<typeof served>): number => {
      time.runUntil(time.now() + nanos(1))
      const before = tasks.asked
      time.runUntil(time.now() + nanos(1))
      return tasks.asked - before
    }
    const untouched = inOneSecond(served())
    expect(untouched).toBeGreaterThan(0)
    const scene = served()
    scene.run(() => scene.bench.stage === 'play')
    scene.standIn.order({ kind: 'anew' })
    expect(inOneSecond(scene)).toBe(untouched)
  })

  it('are alone: those before hear nothing any more', () => {
    const { standIn, hear } = served()
    let read = 0
    const heard = (): number => {
      read = 0
      hear({
        get id() {
          read++
          return 0x7ff
        },
        ...{ extended: false, remote: false, data: new Uint8Array(0) },
      })
      return read
    }
    const first = heard()
    // Each drive looks at it.
    expect(first).toBeGreaterThanOrEqual(6)
    standIn.order({ kind: 'anew' })
    standIn.order({ kind: 'anew' })
    expect(heard()).toBe(first)
  })

  it('play a scenario as the first ones did', () => {
    const { standIn, bench, events, run } = served()
    standIn.order({ kind: 'anew' })
    run(() => bench.ended)
    expect(events.at(-1)).toMatchObject({ kind: 'end', reason: 'completed' })
  })

  it('are quiet when they are asked to be, but for one frame on each bus, until others take their place', () => {
    const { rig, standIn, bench, run, time } = served()
    run(() => bench.stage === 'play')
    const out = standIn.frames.map((f) => f.out)
    standIn.order(parseOrder('quiet 4294967295', rig))
    time.runUntil(time.now() + nanos(0.5))
    expect(standIn.frames.map((f) => f.out)).toEqual(out)
    standIn.order({ kind: 'anew' })
    time.runUntil(time.now() + nanos(0.5))
    // Their boot-up messages.
    expect(standIn.frames.map((f) => f.out)).toEqual(out.map((n) => n + 6))
  })
})

describe('an order', () => {
  const rig = loadRig(DEMO_RIG, 'rig.yaml', watchSchemas)

  it.each([
    ['fault silent port.elbow', { fault: 'silent', place: 2 }, true],
    [
      '  fault   offset  starboard.swing  5 deg ',
      { fault: 'offset', place: 6, amount: (5 * Math.PI) / 180 },
      true,
    ],
    ['fault dropped port.swing 20%', { fault: 'dropped', place: 0, amount: 0.2 }, true],
    ['fault late port.swing 15 ms', { fault: 'late', place: 0, amount: 0.015 }, true],
    ['end late port.swing', { fault: 'late', place: 0 }, false],
  ])('%s', (line, fault, on) => {
    expect(parseOrder(line, rig)).toMatchObject({ kind: 'fault', fault, on })
  })

  it.each([
    [{ fault: 'offset', place: 2, other: -1, amount: 0.123456789012345 }, true],
    [{ fault: 'dropped', place: 0, other: -1, amount: 0.3 }, true],
    [{ fault: 'late', place: 11, other: -1, amount: 1e-9 }, true],
    [{ fault: 'unpowered', place: 3, other: -1, amount: 0 }, true],
    [{ fault: 'offset', place: 2, other: -1, amount: 0 }, false],
  ] as const)('is written so that it reads as the same: %j', (fault, on) => {
    expect(parseOrder(faultLine(fault, on, rig), rig)).toEqual({ kind: 'fault', fault, on })
  })

  it.each([
    ['quiet', /quiet : expected a whole number below 4294967296/],
    ['quiet 4294967296', /expected a whole number/],
    ['', /no order ""/],
    ['fualt jammed port.elbow', /no order "fualt".*did you mean "fault"/],
    ['fault jamed port.elbow', /no fault "jamed".*did you mean "jammed"/],
    ['fault jammed elbow', /no joint "elbow".*did you mean "port.elbow"/],
    ['fault jammed port.elbow 5 deg', /"5 deg" is one word too many/],
    ['fault offset port.elbow', /offset needs an amount, such as: fault offset port.elbow 5 deg/],
    ['fault offset port.elbow 5', /has no unit/],
    ['fault late port.elbow 5 deg', /has the unit "deg"/],
  ])('%s is refused', (line, message) => {
    expect(() => parseOrder(line, rig)).toThrow(message)
  })
})
