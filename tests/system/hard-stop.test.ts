/** Stops that meet resistance: arms left enabled by a run that died, drives that do not obey, buses that fail. */
import { describe, expect, it } from 'vitest'
import type { Bus } from '../../src/bus/contract.js'
import { nanos } from '../../src/clock.js'
import { nmtFrame } from '../../src/wire/cia402/network.js'
import { CONTROLWORD, isControl, isSetpoint, type Sent, Workbench } from '../setup/bench.js'
import { between } from '../setup/between.js'
import { change, DEMO_RIG, scenarioText } from '../setup/runs.js'

const DEG = Math.PI / 180
const QUICK_STOP = 2
const DISABLE_VOLTAGE = 0
const NMT = 0x000
const FEEDBACK_OF_ELBOW = 0x180 + 13

/** A port behind which the drive hears no frame that `deaf` names. */
function hears(
  port: Bus,
  deaf: (id: number) => boolean,
  alter: (data: Uint8Array, id: number) => void = () => {},
): Bus {
  return between(port, {
    send: (f) => {
      const data = f.data.slice()
      alter(data, f.id)
      return port.send({ ...f, data })
    },
    onFrame: (listener) => port.onFrame((f, t) => (deaf(f.id) ? undefined : listener(f, t))),
  })
}

/** A rig whose drives do not stop by themselves and whose arms start near zero, where a forgotten setpoint would lie. */
const careless = DEMO_RIG.replace('watchdog: true', 'watchdog: false')
  .replace(/(elbow: \{.*start: )"[^"]+"/g, '$1"5 deg"')
  .replace(/(pitch: \{.*start: )"[^"]+"/g, '$1"6 deg"')
  .replace(/(port\.feather: \{.*start: )"[^"]+"/, '$1"7 deg"')
  .replace(/(starboard\.feather: \{.*start: )"[^"]+"/, '$1"-9 deg"')

describe('arms left enabled by a run that died', () => {
  it('are stopped by SDO before anything is reset, and do not move before the approach', () => {
    const table = new Workbench(careless)
    const first = table.bench()
    table.run(first.bench, () => first.bench.stage === 'approach')
    // The first bench is dead; for a second nobody says anything.
    table.time.runUntil(table.time.now() + nanos(1))
    table.sent.length = 0
    const before = new Float64Array(table.rig.joints.length)
    table.plant.witness(table.time.now(), before)

    const second = table.bench()
    const now = new Float64Array(before.length)
    let farthest = 0
    table.run(second.bench, () => {
      table.plant.witness(table.time.now(), now)
      farthest = Math.max(farthest, ...now.map((q, j) => Math.abs(q - before[j]!)))
      return second.bench.stage === 'approach'
    })
    expect(second.bench.stage).toBe('approach')
    expect(farthest).toBeLessThan(0.5 * DEG)
    const reset = table.sent.findIndex((s) => s.frame.id === NMT)
    const quickStops = table.sent.filter(
      ({ frame }) => frame.id > 0x600 && frame.data[1] === 0x40 && frame.data[2] === 0x60,
    )
    expect(quickStops.length).toBeGreaterThanOrEqual(table.rig.joints.length)
    expect(table.sent.indexOf(quickStops[0]!)).toBeLessThan(reset)
  })

  it('in full motion are brought to rest before their power is cut', () => {
    const table = new Workbench(change(careless, /quick-stop: "[^"]+"/, 'quick-stop: "300 deg/s2"'))
    const first = table.bench(scenarioText('reversal'))
    table.run(first.bench, () => (first.bench.scenarioTime ?? 0) > 6)
    const second = table.bench()
    const now = new Float64Array(table.rig.joints.length)
    const before = new Float64Array(now.length)
    table.run(second.bench, () => {
      before.set(now)
      table.plant.witness(table.time.now(), now)
      return (
        table.sent.some(
          ({ frame, t }) =>
            frame.id > 0x600 &&
            frame.data[1] === 0x40 &&
            frame.data[4] === 0 &&
            frame.data[0] === 0x2b &&
            t > 0,
        ) || second.bench.stage === 'seed'
      )
    })
    const fastest = Math.max(...now.map((q, j) => Math.abs(q - before[j]!))) / table.rig.control.period
    expect(fastest).toBeLessThan(1 * DEG)
    expect(second.events.filter((e) => e.kind === 'notice').length).toBeGreaterThan(0)
  })

  it('and a signal in the middle of set-up still takes their power away', () => {
    const table = new Workbench(careless)
    const first = table.bench()
    table.run(first.bench, () => first.bench.stage === 'approach')
    const second = table.bench()
    second.bench.tick()
    second.bench.onSignal('SIGINT')
    table.run(second.bench)
    expect(second.events.at(-1)).toMatchObject({ kind: 'end', reason: 'signal' })
    const still = new Float64Array(table.rig.joints.length)
    const later = new Float64Array(still.length)
    table.plant.witness(table.time.now(), still)
    table.time.runUntil(table.time.now() + nanos(2))
    table.plant.witness(table.time.now(), later)
    for (const [j, q] of later.entries()) expect(Math.abs(q - still[j]!)).toBeLessThan(0.01 * DEG)
  })
})

describe('a drive that does not obey', () => {
  it('deaf to controlwords is told by SDO, again and again, and comes to rest', () => {
    let deaf = false
    const table = new Workbench(DEMO_RIG, (joint, port) =>
      joint === 'port.elbow' ? hears(port, (id) => deaf && id === CONTROLWORD) : port,
    )
    const { bench, events } = table.bench()
    table.run(bench, () => (bench.scenarioTime ?? 0) > 5)
    deaf = true
    bench.onSignal('SIGTERM')
    table.run(bench, () => bench.stage === 'stopped')
    const told = table.sent.filter(
      ({ frame, t }) =>
        frame.id === 0x600 + 13 && frame.data[1] === 0x40 && t >= events.find((e) => e.kind === 'stop')!.t,
    )
    expect(told.length).toBeGreaterThan(0)
    expect(events).toContainEqual(expect.objectContaining({ kind: 'notice', place: 'port.elbow' }))
    const { counts } = { counts: new Float64Array(12) }
    table.plant.witness(table.time.now(), counts)
    const later = new Float64Array(12)
    table.time.runUntil(table.time.now() + nanos(1))
    table.plant.witness(table.time.now(), later)
    expect(Math.abs(later[2]! - counts[2]!)).toBeLessThan(0.1 * DEG)
  })

  it('that says something undefined does not count as off: the run does not end as completed', () => {
    let lying = false
    const table = new Workbench(DEMO_RIG, (joint, port) =>
      joint === 'port.elbow'
        ? hears(
            port,
            (id) => lying && id === CONTROLWORD,
            (data, id) => {
              if (lying && id === FEEDBACK_OF_ELBOW) data[0] = 0x05
            },
          )
        : port,
    )
    const { bench, events } = table.bench()
    table.run(bench, () => bench.stage === 'park')
    lying = true
    table.run(bench)
    expect(events.find((e) => e.kind === 'stop')).toMatchObject({ source: 'drive', place: 'port.elbow' })
    expect(events.at(-1)).toMatchObject({ kind: 'end', reason: 'stopped' })
  })
})

describe('a bus that fails', () => {
  it.each([0, 1])('bus %i throws: the other one gets its stop, the run ends', (broken) => {
    const table = new Workbench()
    const { bench, events } = table.bench()
    table.run(bench, () => (bench.scenarioTime ?? 0) > 5)
    const from = table.sent.length
    table.breakBus(broken)
    table.run(bench)
    const after = table.sent.slice(from)
    expect(after.every((s) => s.bus !== broken)).toBe(true)
    expect(after.findIndex((s) => isControl(s, QUICK_STOP))).toBeGreaterThanOrEqual(0)
    expect(after.slice(after.findIndex((s) => isControl(s, QUICK_STOP))).some(isSetpoint)).toBe(false)
    expect(events.find((e) => e.kind === 'stop')).toMatchObject({
      source: 'bus',
      place: table.rig.buses[broken]!.name,
    })
    expect(events.at(-1)?.kind).toBe('end')
  })

  it('blocked by foreign frames: waiting setpoints are taken back, and the quick stop is the next frame of ours', () => {
    const table = new Workbench()
    const { bench, events } = table.bench()
    table.run(bench, () => (bench.scenarioTime ?? 0) > 5)
    // Less urgent than the controlword, more urgent than the setpoints of this bus.
    const babbler = table.mocks[0]!.attach('babbler')
    const babble = (): void => {
      while (babbler.send({ id: 0x20a, extended: false, remote: false, data: new Uint8Array(8) }) === 'sent');
      table.time.at(table.time.now() + 1e6, babble)
    }
    babble()
    table.run(bench, () => bench.stage === 'stopping')
    const stop = events.find((e) => e.kind === 'stop')!
    expect(stop).toMatchObject({ source: 'bus', place: 'port-can' })
    expect(events.find((e) => e.kind === 'withdrawn')).toMatchObject({ place: 'port-can' })
    let heard = Number.POSITIVE_INFINITY
    table.mocks[0]!.attach('listener').onFrame((f, t) => {
      if (f.id === CONTROLWORD && t < heard) heard = t
    })
    table.run(bench, () => heard < Number.POSITIVE_INFINITY)
    // One foreign frame may be on the wire: 135 bits.
    expect(heard - stop.t).toBeLessThanOrEqual(2 * 135e3)
  })
})

describe('a stop upon a stop', () => {
  it('asked for after release or reset sends its frames anew', () => {
    const table = new Workbench()
    const actions =
      '  - { at: "9 s", do: release }\n  - { at: "9.5 s", do: stop }\n  - { at: "9.6 s", do: release }\n  - { at: "9.7 s", do: reset }\n  - { at: "9.8 s", do: stop }\n'
    const text = change(scenarioText('operator-stop'), / {2}- \{ at: "9 s"[\s\S]*?(?=expect:)/, actions)
    const { bench, events } = table.bench(text)
    table.run(bench)
    const stops = events.filter((e) => e.kind === 'stop')
    expect(stops).toHaveLength(3)
    for (const { t } of stops) {
      const frames = table.sent.filter((s) => s.t === t && isControl(s, QUICK_STOP))
      expect(frames.map((s) => s.bus).sort()).toEqual([0, 1])
    }
    const first = table.sent.findIndex((s: Sent) => s.t === stops[0]!.t && isControl(s, QUICK_STOP))
    expect(table.sent.slice(first).some(isSetpoint)).toBe(false)
    expect(table.sent.some((s) => isControl(s, DISABLE_VOLTAGE))).toBe(true)
  })
})

describe('a node that an earlier run left in NMT stopped', () => {
  it('hears neither SDO nor controlwords: it is woken by NMT and then set up like the others', () => {
    const table = new Workbench()
    table.time.runUntil(nanos(0.1))
    table.mocks[0]!.attach('earlier').send(nmtFrame('stop', 13))
    table.time.runUntil(nanos(0.2))
    const { bench } = table.bench()
    table.run(bench, () => bench.stage === 'play')
    expect(bench.stage).toBe('play')
    const woken = table.sent.filter(({ frame }) => frame.id === NMT && frame.data[0] === 128)
    expect(woken.map(({ frame }) => frame.data[1])).toEqual([13])
  })
})
