/**
 * What the bench does when the driver or a bus fails in mid-run, what it says on the bus while all is well, and that it
 * waits neither for ever nor too short for blades to be parked, drives to be off, and arms to hang still.
 */
import { afterEach, describe, expect, it, vi } from 'vitest'
import type { Bench } from '../../src/bench/bench.js'
import type { RunLog } from '../../src/bench/run-log.js'
import { runVirtual } from '../../src/bench/virtual.js'
import { ReferenceDriver } from '../../src/driver/reference.js'
import { DrystrokeError } from '../../src/errors.js'
import type { BenchEvent, Stage } from '../../src/files/event.js'
import { loadScenario } from '../../src/files/load.js'
import type { RecordingWriter } from '../../src/record/write.js'
import { CONTROLWORD, isControl, isSetpoint, type Sent, Workbench } from '../setup/bench.js'
import { DEMO_RIG, scenarioText } from '../setup/runs.js'

const MS = 1e6
const QUICK_STOP = 2
const SHUTDOWN = 6
const HEARTBEAT_OF_OURS = 0x77f
const SHORT = `
name: nothing-much
about: Arms go to their park pose, stand there for a second and are done.
duration: "1 s"
expect: { outcome: finish, parked: true }
`

type Stop = Extract<BenchEvent, { kind: 'stop' }>

const stopOf = (events: readonly BenchEvent[]): Stop => {
  const stops = events.filter((e): e is Stop => e.kind === 'stop')
  expect(stops).toHaveLength(1)
  return stops[0]!
}
const timeOf = (events: readonly BenchEvent[], stage: Stage): number =>
  events.find((e) => e.kind === 'stage' && e.stage === stage)!.t
const endOf = (events: readonly BenchEvent[]) => {
  const end = events.at(-1)!
  if (end.kind !== 'end') throw new Error(`the last event is ${end.kind}`)
  return end
}
const inPlay = (bench: Bench, s: number) => () => (bench.scenarioTime ?? -1) > s

/** From its first quick stop on, nothing but what takes power away: no setpoint and no enabling. */
function stoppedFrom(sent: readonly Sent[], t: number): void {
  const after = sent.filter((s) => s.t >= t)
  const first = after.findIndex((s) => isControl(s, QUICK_STOP))
  expect(first).toBeGreaterThanOrEqual(0)
  const rest = after.slice(first)
  expect(rest.filter(isSetpoint)).toEqual([])
  expect(rest.filter((s) => s.frame.id === CONTROLWORD && s.frame.data[0]! > QUICK_STOP)).toEqual([])
}

/** A reference driver that is spoiled in one way. */
function spoiled(table: Workbench, spoil: (driver: ReferenceDriver) => void): ReferenceDriver {
  const driver = new ReferenceDriver(table.rig)
  spoil(driver)
  return driver
}

/** Its step throws from the n-th on. */
function throwsFrom(driver: ReferenceDriver, n: number, error: unknown): void {
  const step = driver.step.bind(driver)
  let steps = 0
  driver.step = (command, out) => {
    if (++steps >= n) throw error
    step(command, out)
  }
}

describe('a driver that fails in mid-run', () => {
  it('with a point it cannot reach: the arms stop at that tick, and the run names arm and reason', () => {
    const table = new Workbench()
    const error = new DrystrokeError('unreachable', 'port cannot reach phase 0.3', {
      arm: 'port',
      phase: 0.3,
    })
    const driver = spoiled(table, (d) => throwsFrom(d, 1000, error))
    const { bench, events } = table.bench(undefined, undefined, driver)
    table.run(bench)
    const said = events.find((e) => e.kind === 'driver')!
    // Steps are counted from scenario zero, one a tick of 5 ms.
    expect(said).toMatchObject({
      code: 'unreachable',
      place: 'port',
      says: 'port cannot reach phase 0.3',
      t: timeOf(events, 'play') + 1000 * 5 * MS,
    })
    const stop = stopOf(events)
    expect(stop).toMatchObject({ source: 'driver', place: 'port', category: 1, t: said.t })
    const told = table.sent.filter((s) => s.t === stop.t && isControl(s, QUICK_STOP))
    expect(told.map((s) => s.bus)).toEqual([0, 1])
    stoppedFrom(table.sent, stop.t)
    expect(endOf(events).reason).toBe('stopped')
  })

  it('that names a joint is reported at that joint', () => {
    const table = new Workbench()
    const error = new DrystrokeError('unreachable', 'port.elbow is at its limit', {
      arm: 'port',
      joint: 'port.elbow',
    })
    const driver = spoiled(table, (d) => throwsFrom(d, 10, error))
    const { bench, events } = table.bench(undefined, undefined, driver)
    table.run(bench)
    expect(stopOf(events)).toMatchObject({ source: 'driver', place: 'port.elbow' })
  })

  describe('with a defect', () => {
    afterEach(() => vi.restoreAllMocks())

    it('the arms stop at that tick, come to rest and are watched, then the error comes out', async () => {
      const { rig } = new Workbench()
      const error = new TypeError("Cannot read properties of undefined (reading 'q')")
      const step = ReferenceDriver.prototype.step
      let steps = 0
      vi.spyOn(ReferenceDriver.prototype, 'step').mockImplementation(function (
        this: ReferenceDriver,
        ...args
      ) {
        if (++steps === 1000) throw error
        step.apply(this, args)
      })
      const sent: Sent[] = []
      const events: BenchEvent[] = []
      const recording: Pick<RecordingWriter, 'frame' | 'event' | 'flush'> & RunLog = {
        frame: (bus, frame, t, ours) => {
          if (ours) sent.push({ bus, frame, t })
        },
        event: (e) => events.push(e),
        flush: () => {},
      }
      const scenario = loadScenario(scenarioText('slow-ahead'), 'scenario.yaml', rig)
      await expect(
        runVirtual({ rig, scenario, seed: 1, recording: recording as RecordingWriter }),
      ).rejects.toBe(error)
      const stop = stopOf(events)
      expect(stop).toMatchObject({ source: 'bench', t: timeOf(events, 'play') + 1000 * 5 * MS })
      expect(stop.says).toContain(error.message)
      const told = sent.filter((s) => s.t === stop.t && isControl(s, QUICK_STOP))
      expect(told.map((s) => s.bus)).toEqual([0, 1])
      stoppedFrom(sent, stop.t)
      expect(endOf(events).t - timeOf(events, 'stopped')).toBeGreaterThanOrEqual(2000 * MS)
    })
  })
})

describe('a bus that refuses frames', () => {
  it.each([
    [0, 'queue full'],
    [1, 'down'],
  ] as const)('bus %i, %s: the run stops at the next tick, the other bus is told', (bus, answer) => {
    const table = new Workbench()
    const { bench, events } = table.bench()
    table.run(bench, inPlay(bench, 5))
    const from = table.time.now()
    table.refuse(bus, answer)
    table.run(bench)
    const stop = stopOf(events)
    expect(stop).toMatchObject({
      source: 'bus',
      place: table.rig.buses[bus]!.name,
      says: `the bus refused a frame: ${answer}`,
    })
    expect(stop.t - from).toBeLessThanOrEqual(5 * MS)
    stoppedFrom(table.sent, stop.t)
    expect(table.sent.filter((s) => s.t >= stop.t && isControl(s, QUICK_STOP))[0]!.bus).toBe(1 - bus)
    expect(endOf(events).reason).toBe('stopped')
  })
})

describe('a bus with a backlog', () => {
  /** The bus is stalled for so many ticks while nothing moves: before the first command. */
  function stalledAtRest(ticks: number) {
    const table = new Workbench()
    const { bench, events } = table.bench()
    table.run(bench, inPlay(bench, 0.5))
    const from = table.time.now()
    table.stall(0)
    table.run(bench, () => table.time.now() >= from + ticks * 5 * MS)
    table.stall(0, false)
    return { table, bench, events, from }
  }

  it('drops its setpoints and no others: never queued', () => {
    const { table, from } = stalledAtRest(3)
    const setpoints = table.sent.filter((s) => isSetpoint(s) && s.t > from && s.t <= from + 15 * MS)
    expect(setpoints.filter((s) => s.bus === 0)).toEqual([])
    expect(setpoints.filter((s) => s.bus === 1)).toHaveLength(3 * 6)
  })

  it('three cycles in a row are borne: the run goes on', () => {
    const { table, bench, events } = stalledAtRest(3)
    table.run(bench)
    expect(events.filter((e) => e.kind === 'stop')).toEqual([])
    expect(endOf(events).reason).toBe('completed')
  })

  it('a fourth stops the run', () => {
    const { table, bench, events, from } = stalledAtRest(5)
    table.run(bench)
    const stop = stopOf(events)
    expect(stop).toMatchObject({
      source: 'bus',
      place: 'port-can',
      says: 'the bus did not send the setpoints of 3 cycles in time',
    })
    expect(stop.t - from).toBe(4 * 5 * MS)
    stoppedFrom(table.sent, stop.t)
  })

  it('in motion the bus is named, not the setpoint that has grown too far', () => {
    const table = new Workbench()
    const { bench, events } = table.bench()
    table.run(bench, inPlay(bench, 5))
    table.stall(1)
    table.run(bench)
    expect(stopOf(events)).toMatchObject({ source: 'bus', place: 'starboard-can' })
    expect(events.filter((e) => e.kind === 'gate')).toEqual([])
  })
})

describe('a driver that fails while a bus is behind', () => {
  it('is named by the gate: only a step that has grown too long is put down to the bus', () => {
    const table = new Workbench()
    let mad = false
    const driver = spoiled(table, (d) => {
      const step = d.step.bind(d)
      d.step = (command, out) => {
        step(command, out)
        if (mad) out[0] = Number.NaN
      }
    })
    // Parked: a dropped cycle of standing setpoints is no step.
    const { bench, events } = table.bench(SHORT, () => {}, driver)
    table.run(bench, inPlay(bench, 0.5))
    table.stall(0)
    const from = table.time.now()
    table.run(bench, () => table.time.now() > from + 10 * MS)
    mad = true
    table.run(bench)
    expect(stopOf(events)).toMatchObject({ source: 'gate', place: 'port.swing' })
  })
})

describe('the heartbeat of node 127', () => {
  it('goes out on every bus every 20 ms, from the first tick to the last, also while stopped', () => {
    const table = new Workbench()
    const { bench, events } = table.bench(scenarioText('operator-stop'))
    table.run(bench)
    const beats = [0, 1].map((bus) =>
      table.sent.filter((s) => s.bus === bus && s.frame.id === HEARTBEAT_OF_OURS),
    )
    const whole = Math.floor(endOf(events).t / (20 * MS)) + 1
    for (const of of beats) {
      // The tick that ends the run may be one that would have sent one.
      expect(whole - of.length).toBeLessThanOrEqual(1)
      expect(of.map((s) => s.t)).toEqual(of.map((_, i) => i * 20 * MS))
      // CiA 301: 05h operational.
      expect(of.every((s) => s.frame.data.length === 1 && s.frame.data[0] === 5)).toBe(true)
    }
    expect(timeOf(events, 'stopped')).toBeLessThan(beats[0]!.at(-1)!.t)
  })

  it('comes last in a tick, after SYNC and setpoints: a loop that hangs before its end sends none', () => {
    const table = new Workbench()
    const { bench } = table.bench()
    table.run(bench, inPlay(bench, 2))
    const t = table.sent.filter((s) => s.frame.id === HEARTBEAT_OF_OURS).at(-1)!.t
    const tick = table.sent.filter((s) => s.t === t).map((s) => s.frame.id)
    expect(tick.slice(0, 2)).toEqual([0x080, 0x080])
    expect(tick.slice(-2)).toEqual([HEARTBEAT_OF_OURS, HEARTBEAT_OF_OURS])
    expect(tick).toHaveLength(2 + 12 + 2)
  })
})

describe('the end of a run', () => {
  it('blades that are never parked are waited for 30 s, then the arms are stopped', () => {
    const table = new Workbench()
    const driver = spoiled(table, (d) => Object.defineProperty(d, 'parked', { value: false }))
    const { bench, events } = table.bench(SHORT, undefined, driver)
    table.run(bench)
    const stop = stopOf(events)
    expect(stop).toMatchObject({ source: 'driver', says: 'the blades were not parked within 30 s' })
    expect(stop.t - timeOf(events, 'park')).toBe(30_005 * MS)
    stoppedFrom(table.sent, stop.t)
  })

  it('drives that never leave operation enabled are told every 20 ms or so for 2 s, then stopped', () => {
    let deaf = false
    const table = new Workbench(DEMO_RIG, (joint, port) =>
      joint !== 'starboard.roll'
        ? port
        : {
            ...port,
            name: port.name,
            waiting: 0,
            withdraw: () => port.withdraw(),
            send: (f) => port.send(f),
            onFrame: (listener) =>
              port.onFrame((f, t) => (deaf && f.id === CONTROLWORD ? undefined : listener(f, t))),
            close: () => port.close(),
          },
    )
    const { bench, events } = table.bench(SHORT)
    table.run(bench, () => bench.stage === 'park')
    deaf = true
    table.run(bench)
    const stop = stopOf(events)
    const disable = timeOf(events, 'disable')
    expect(stop).toMatchObject({
      source: 'drive',
      place: 'starboard.roll',
      says: 'the drive did not leave operation enabled within 2 s',
    })
    expect(stop.t - disable).toBe(2_005 * MS)
    const told = table.sent.filter((s) => s.bus === 1 && s.t >= disable && isControl(s, SHUTDOWN))
    expect(told.length).toBe(81)
    stoppedFrom(table.sent, stop.t)
  })

  it('arms without power are watched for the sag window, 2 s, before NMT pre-operational ends the feedback', () => {
    const table = new Workbench()
    const { bench, events } = table.bench(SHORT)
    table.run(bench)
    const rest = timeOf(events, 'rest')
    const end = endOf(events)
    expect(end).toMatchObject({ reason: 'completed', t: rest + 2000 * MS })
    const nmt = table.sent.filter((s) => s.frame.id === 0x000 && s.t > timeOf(events, 'play'))
    // CiA 301: 80h pre-operational, node 0: all.
    expect(nmt.map((s) => [s.bus, s.t, ...s.frame.data])).toEqual([
      [0, end.t, 0x80, 0],
      [1, end.t, 0x80, 0],
    ])
    expect(table.sent.filter((s) => s.frame.id === 0x080 && s.t > rest)).toHaveLength(2 * 400)
  })

  it('and so are arms that a stop has brought to rest', () => {
    const table = new Workbench()
    const { bench, events } = table.bench()
    table.run(bench, inPlay(bench, 5))
    bench.onSignal('SIGTERM')
    table.run(bench)
    expect(endOf(events)).toMatchObject({ reason: 'signal', t: timeOf(events, 'stopped') + 2000 * MS })
  })
})
