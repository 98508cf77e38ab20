/**
 * Bindings that are wrong on purpose, against the simulated arms' own truth: the run is stopped before anything moves far, and the finding names
 * what is wrong. And a driver that does not do what it is asked.
 */
import { describe, expect, it } from 'vitest'
import { assemble } from '../../src/bench/assemble.js'
import { MockBus } from '../../src/bus/mock.js'
import { nanos, VirtualTime } from '../../src/clock.js'
import type { Driver } from '../../src/driver/contract.js'
import { ReferenceDriver } from '../../src/driver/reference.js'
import type { Finding } from '../../src/files/event.js'
import { loadRig, loadScenario } from '../../src/files/load.js'
import type { Joint, Rig } from '../../src/files/rig.js'
import { createPlant } from '../../src/plant/plant.js'
import type { Verdict } from '../../src/verdict/verdict.js'
import { type WatchSettings, watchSchemas } from '../../src/watch/settings.js'
import { change, DEMO_RIG, FRAMES_RIG } from '../setup/runs.js'

const SHORT = `name: short
about: A few seconds ahead.
duration: "3 s"
commands:
  - { at: "0.2 s", surge: "0.3 m/s", yaw: "0 deg/s", over: "0 s" }
expect:
  outcome: finish
  parked: false
`

interface Otherwise {
  /** How a drive is really wired: its bus and node. */
  readonly wired?: (joint: Joint) => { readonly bus?: number; readonly node?: number }
  readonly driver?: (rig: Rig<WatchSettings>) => Driver
}

function verdictOf(rigText: string, { wired = () => ({}), driver }: Otherwise = {}): Verdict {
  const rig = loadRig(rigText, 'rig.yaml', watchSchemas)
  const time = new VirtualTime()
  const mocks = rig.buses.map((b) => new MockBus(time, b))
  const joints = rig.joints.map((joint) => ({ ...joint, wire: { ...joint.wire, ...wired(joint) } }))
  const plant = createPlant(
    { ...rig, joints },
    time,
    (bus, name) => mocks[bus]!.attach(name, { order: 'by identifier' }),
    1,
  )
  const { bench, judge } = assemble({
    rig,
    plant,
    scenario: loadScenario(SHORT, 'short.yaml', rig),
    seed: 1,
    clock: time,
    buses: mocks.map((mock) => mock.attach('bench', { queue: 32 })),
    recording: { frame: () => {}, event: () => {}, flush: () => {} },
    ...(driver ? { driver: driver(rig) } : {}),
  })
  for (let k = 0; !bench.ended; k++) {
    time.runUntil(nanos(k * rig.control.period))
    bench.tick()
  }
  return judge.close().verdict
}

const of = (verdict: Verdict, watch: string): Finding[] => verdict.findings.filter((f) => f.watch === watch)

describe('a binding that is wrong', () => {
  it.each([
    [
      'sign',
      DEMO_RIG,
      /(node: 16, counts-per-turn: 65536, sign: )1(, zero: "-610 counts")/,
      '$1-1$2',
      'port.feather',
      'feedback sign|feedback offset',
    ],
    [
      'counts a turn',
      DEMO_RIG,
      /(node: 16, counts-per-turn: )65536(, sign: 1, zero: "-610 counts")/,
      '$1131072$2',
      'port.feather',
      'feedback scale|feedback offset',
    ],
    [
      'zero',
      DEMO_RIG,
      /(node: 11, [^}]*zero: )"1200 counts"/,
      '$1"5296 counts"',
      'port.swing',
      'feedback offset',
    ],
    [
      'sign of arms that speak frames of their own',
      FRAMES_RIG,
      /(map: heron, node: 6, sign: )1/,
      '$1-1',
      'port.feather',
      'feedback sign|feedback offset',
    ],
  ] as const)('%s', (_, rig, from, to, place, quantity) => {
    const verdict = verdictOf(change(rig, from, to))
    expect(verdict.outcome).toBe('fail')
    expect(verdict.stop).toMatchObject({ source: 'sense', place })
    const found = of(verdict, 'feedback')
    expect(found.map((f) => f.place)).toEqual([place])
    expect(found[0]!.quantity).toMatch(new RegExp(`^(${quantity})$`))
    // Nothing was led anywhere yet: it is told within the time of the first frames.
    expect(found[0]!.t - verdict.stop!.t).toBeLessThan(30e6)
  })

  it('the angle of a zero that is off is told', () => {
    const rig = change(DEMO_RIG, /(node: 11, [^}]*zero: )"1200 counts"/, '$1"5296 counts"')
    // 4096 of 131072 counts a turn are 11.25 deg.
    expect(of(verdictOf(rig), 'feedback')[0]!.value).toBeCloseTo((-11.25 * Math.PI) / 180, 3)
  })
})

describe('plugs that are exchanged', () => {
  it('two drives of an arm: each is named with the other', () => {
    const verdict = verdictOf(DEMO_RIG, {
      wired: ({ name }) =>
        name === 'port.roll' ? { node: 16 } : name === 'port.feather' ? { node: 14 } : {},
    })
    expect(verdict.outcome).toBe('fail')
    expect(verdict.stop?.source).toBe('sense')
    expect(of(verdict, 'feedback').map((f) => f.says)).toEqual([
      'The feedback of port.roll tells where port.feather truly is.',
      'The feedback of port.feather tells where port.roll truly is.',
    ])
  })

  it('two arms: the sides are named', () => {
    // With absolute zeros of their own the joints would stand outside their limits, and nothing would begin.
    const alike = DEMO_RIG.replace(/(counts-per-turn: \d+, sign: )-?1(, zero: )"[^"]+"/g, '$11$2"0 counts"')
    const verdict = verdictOf(alike, { wired: ({ wire }) => ({ bus: 1 - wire.bus }) })
    expect(verdict.outcome).toBe('fail')
    expect(of(verdict, 'feedback').map((f) => [f.place, f.quantity])).toEqual([
      ['port', 'feedback of another arm'],
      ['starboard', 'feedback of another arm'],
    ])
  })
})

describe('a driver that', () => {
  const led = (alter: (out: Float64Array, k: number, park: Float64Array) => void) => (rig: Rig) => {
    const good = new ReferenceDriver(rig)
    let k = 0
    return {
      parkPose: good.parkPose,
      get parked() {
        return good.parked
      },
      begin: () => good.begin(),
      step: (command: Parameters<Driver['step']>[0], out: Float64Array) => {
        good.step(command, out)
        alter(out, k++, good.parkPose)
      },
    }
  }

  it('stands still under a command fails, each arm by name', () => {
    const verdict = verdictOf(DEMO_RIG, { driver: led((out, _, park) => out.set(park)) })
    expect(verdict.outcome).toBe('fail')
    expect(of(verdict, 'setpoints').map((f) => [f.place, f.quantity, f.severity])).toEqual([
      ['port', 'way asked for while setpoints stood', 'failure'],
      ['starboard', 'way asked for while setpoints stood', 'failure'],
    ])
  })

  it('shakes one joint below every limit of the gate fails by the change of its acceleration', () => {
    const verdict = verdictOf(DEMO_RIG, {
      // +-1e-4 rad every other period: 16 rad/s2 of the 26 that are permitted.
      driver: led((out, k) => {
        out[2]! += k > 200 && k % 2 === 0 ? 1e-4 : 0
      }),
    })
    expect(verdict.outcome).toBe('fail')
    expect(verdict.findings.filter((f) => f.watch === 'gate')).toEqual([])
    expect(of(verdict, 'setpoints').map((f) => [f.place, f.quantity, f.stop])).toEqual([
      ['port.elbow', 'change of setpoint acceleration', null],
    ])
  })

  it('gives no number is stopped by the gate, and counted', () => {
    const verdict = verdictOf(DEMO_RIG, {
      driver: led((out, k) => {
        if (k === 100) out[5] = Number.NaN
      }),
    })
    expect(verdict.stop).toMatchObject({ source: 'gate', place: 'port.feather' })
    const figures = verdict.watches.find((w) => w.watch === 'setpoints')!.figures
    expect(figures.find((f) => f.name === 'setpoints that were no numbers')!.value).toBe(1)
  })
})
