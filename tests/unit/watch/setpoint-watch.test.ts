import { describe, expect, it } from 'vitest'
import { ReferenceDriver } from '../../../src/driver/reference.js'
import { needs } from '../../setup/needs.js'
import { python } from '../../setup/python.js'
import { DEMO } from '../driver/play.js'
import { driven, type Order } from './driven.js'
import { otherwise } from './otherwise.js'
import { PERIOD } from './rig.js'
import { NS, type Transcript, told, watching } from './transcript.js'

const DEG = Math.PI / 180
const COUNT = (2 * Math.PI) / 131072
const DEMO_PARK = new ReferenceDriver(DEMO).parkPose
/** As a frame carries it: whole counts. */
const whole = (q: number): number => Math.round(q / COUNT) * COUNT
/** Standing at its place before it is led. */
function ready(run: Transcript): Transcript {
  const rest = { setpoint: () => 0, feedback: () => 0 }
  return run.stage('enable').cycles(20, rest).stage('approach').cycles(20, rest)
}

/** rad; the test rig permits 3 rad/s and 26 rad/s2, and so a change of acceleration of 6.5 rad/s2 a period. It comes up from rest, so that nothing jumps at its beginning. */
const risen = (s: number): number => 0.3 * (1 - Math.cos(2 * s))
const led = (from: number, change: (j: number, k: number, x: number) => number = (_, __, x) => x) => ({
  setpoint: (j: number, k: number) => whole(change(j, k, risen((k - from) * PERIOD))),
  feedback: (_: number, k: number) => risen((k - from) * PERIOD),
})

describe('setpoints watch, from one period to the next', () => {
  it('is quiet on motion within the limits, rounded to counts', () => {
    const { run, findings, watch, figure } = watching('setpoints')
    ready(run).stage('play').cycles(2000, led(run.k))
    watch.close()
    expect(findings).toEqual([])
    expect(figure('port.roll', 'setpoint acceleration, peak')).toBeGreaterThan(1.2)
    expect(figure('', 'setpoints off their beat')).toBe(0)
  })

  it.each([
    // 3 rad/s are 15 mrad a period; 26 rad/s2 are 0.65 mrad, 6.5 rad/s2 0.1625 mrad a period squared.
    ['speed', 0.02, 'setpoint speed', 1],
    ['acceleration', 0.002, 'setpoint acceleration', 1],
    ['change of acceleration', 0.0006, 'change of setpoint acceleration', null],
  ])('finds a jump beyond the limit of %s at once', (_, jump, quantity, stop) => {
    const { run, findings } = watching('setpoints')
    ready(run).stage('play')
    const from = run.k
    run.cycles(300, led(from))
    const at = run.t
    run.cycles(
      1,
      led(from, (j, __, x) => (j === 4 ? x + jump : x)),
    )
    expect(told(findings)).toEqual([`failure starboard.pitch ${quantity}`])
    expect(findings[0]!.t).toBe(at)
    expect(findings[0]!.stop).toBe(stop)
    expect(findings[0]!.value).toBeGreaterThan(findings[0]!.limit)
  })

  it('bears a jump that is too small for any limit', () => {
    const { run, findings } = watching('setpoints')
    ready(run).stage('play')
    const from = run.k
    run.cycles(300, led(from)).cycles(
      1,
      led(from, (j, __, x) => (j === 4 ? x + 0.00005 : x)),
    )
    expect(findings).toEqual([])
  })

  it('finds a setpoint out of range, and one that is no number', () => {
    const { run, findings } = watching('setpoints')
    ready(run).stage('play')
    const from = run.k
    run.see({ kind: 'setpoint', t: run.t, joint: 2, index: run.k, position: 1.6 })
    expect(told(findings)).toEqual(['failure port.feather setpoint position'])
    expect(findings[0]!.limit).toBe(1.5)
    run.cycles(40, led(from))
    const values = Array.from({ length: 6 }, (_, j) => (j === 1 ? Number.NaN : risen(0)))
    run.see({ kind: 'tick', t: run.t, k: run.k, late: 0, setpoints: values, witness: null })
    expect(told(findings).at(-1)).toBe('failure port.pitch setpoint is no finite number')
    expect(findings.at(-1)!.stop).toBe(1)
  })

  it('judges what the own driver gave, finer than a count', () => {
    const { run, findings } = watching('setpoints', {
      counts: 4096 / (2 * Math.PI),
      // Nothing goes out on a bus here.
      watch: { setpoints: { silent: '10 s' } },
    })
    ready(run).stage('play')
    const from = run.k
    const ticks = (count: number, jump: number): void => {
      for (const end = run.k + count; run.k < end; run.k++) {
        const x = Math.round(1e6 * (risen((run.k - from) * PERIOD) + jump)) / 1e6
        run.see({ kind: 'tick', t: run.t, k: run.k, late: 0, setpoints: [x, 0, 0, 0, 0, 0], witness: null })
      }
    }
    ticks(200, 0)
    expect(findings).toEqual([])
    ticks(1, 0.0004)
    expect(told(findings)).toEqual(['failure port.roll change of setpoint acceleration'])
  })

  it('begins anew with the approach, but for the last place', () => {
    const noisy = { setpoint: (_: number, k: number) => (k % 2) * 4 * COUNT, feedback: () => 0 }
    const calm = watching('setpoints')
    calm.run
      .stage('enable')
      .cycles(40, noisy)
      .stage('approach')
      .cycles(3, noisy)
      .cycles(40, led(calm.run.k + 3))
    expect(calm.findings).toEqual([])
    const leap = watching('setpoints')
    const rest = { setpoint: () => 0, feedback: () => 0 }
    leap.run
      .stage('enable')
      .cycles(40, rest)
      .stage('approach')
      .cycles(1, { ...rest, setpoint: (j) => (j === 3 ? 0.02 : 0) })
    expect(told(leap.findings)).toEqual(['failure starboard.roll setpoint speed'])
  })

  it('says nothing of what is sent before the approach and after a stop', () => {
    const { run, findings } = watching('setpoints')
    const wild = { setpoint: (_: number, k: number) => (k % 2 === 0 ? 0.3 : -0.3) }
    run.stage('seed').cycles(20, wild).stage('enable').cycles(20, wild)
    run.stage('approach').stop().cycles(20, wild).stage('stopping').cycles(20, wild)
    expect(findings).toEqual([])
  })

  it.skipIf(!needs('python3-numpy'))('differences are those of numpy', () => {
    const { run, figure } = watching('setpoints')
    ready(run).stage('play')
    const from = run.k
    const values: number[] = []
    const noted = led(from, (j, k, x) => {
      if (j === 0) values.push(whole(x + 2e-4 * Math.sin(k)))
      return j === 0 ? x + 2e-4 * Math.sin(k) : x
    })
    run.cycles(400, noted)
    // numpy.diff of orders 2 and 3 (numpy's own documentation), after the zeros of the time at rest.
    const script = `
import json, sys, numpy
job = json.load(sys.stdin)
x = numpy.array([0.0] * 3 + job['x'])
json.dump([numpy.abs(numpy.diff(x, n)).max() / job['T'] ** 2 for n in (2, 3)], sys.stdout)`
    const [acceleration, change] = python<[number, number]>(script, { x: values, T: PERIOD })
    expect(figure('port.roll', 'setpoint acceleration, peak')).toBeCloseTo(acceleration, 9)
    // From the first value beyond the acceleration's limit on nothing finer is looked at: these are all below it.
    expect(acceleration).toBeLessThan(26)
    expect(figure('port.roll', 'change of setpoint acceleration in a period, peak')).toBeCloseTo(change, 9)
  })
})

describe('setpoints watch, the beat', () => {
  it('counts what is left out, doubled and off its beat, and warns beyond 1 %', () => {
    const { run, findings, watch, figure } = watching('setpoints')
    ready(run).stage('play')
    const from = run.k
    run.cycles(400, { ...led(from), setpoint: (j, k) => (k % 50 === 7 ? null : led(from).setpoint(j, k)) })
    for (let i = 0; i < 4; i++)
      run.see({
        kind: 'setpoint',
        t: run.t,
        joint: 3,
        index: run.k,
        position: led(from).setpoint(3, run.k - 1),
      })
    watch.close()
    expect(told(findings)).toEqual(['warning  setpoints off their beat'])
    // 8 of 400 cycles for each of 6 joints are left out; 4 come twice.
    expect(figure('', 'setpoints off their beat')).toBeCloseTo((8 * 6 + 4) / (418 * 6), 3)
    expect(figure('', 'setpoints absent, longest')).toBeCloseTo(PERIOD, 12)
  })

  it('bears an interval a third of a period off, not one of two thirds', () => {
    for (const [off, found] of [
      [0.3, 0],
      [0.7, 1],
    ] as const) {
      const { run, findings, watch } = watching('setpoints')
      ready(run).stage('play')
      for (let i = 0; i < 300; i++, run.k++) {
        const t = Math.round((run.k + (i % 20 === 3 ? off : 0)) * NS)
        for (let joint = 0; joint < 6; joint++)
          run.see({ kind: 'setpoint', t, joint, index: run.k + 1, position: 0 })
      }
      watch.close()
      expect(findings.length).toBe(found)
    }
  })

  it('finds setpoints that cease after 20 ms, by ticks, and stops', () => {
    const { run, findings } = watching('setpoints')
    ready(run).stage('play')
    const from = run.k
    run.cycles(100, led(from))
    const last = run.t - NS
    run.cycles(30, { ...led(from), setpoint: (j, k) => (j === 1 ? null : led(from).setpoint(j, k)) })
    expect(told(findings)).toEqual(['failure port.pitch setpoints ceased'])
    // 20 ms (link.stale-after) are four periods: the tick of the fifth says so.
    expect(findings[0]!.t - last).toBe(5 * NS)
    expect(findings[0]!.stop).toBe(1)
  })

  it('names the whole rig when all cease; a loop that stalls says nothing of the driver', () => {
    const { run, findings } = watching('setpoints')
    ready(run).stage('play')
    const from = run.k
    run.cycles(100, led(from))
    run.k += 40
    run.cycles(3, led(from + 40))
    expect(findings).toEqual([])
    run.cycles(30, { feedback: () => 0 })
    expect(told(findings)).toEqual(['failure  setpoints ceased'])
  })

  it('finds a driver that runs at half the rate, and one that is merely slow', () => {
    for (const [every, speed, found] of [
      [1, 1, 0],
      [2, 1, 6],
      [4, 1, 6],
      // Slower than a count in two periods: most setpoints are the same as the one before, and nothing is wrong.
      [1, 0.002, 0],
    ] as const) {
      const { run, findings, watch } = watching('setpoints', { watch: { setpoints: { rise: '0.1 ms' } } })
      ready(run).stage('play')
      const from = run.k
      const stairs = (k: number): number => risen((speed * (k - from) * PERIOD) / 4)
      run.cycles(1500, {
        setpoint: (_, k) => whole(stairs(k - ((k - from) % every))),
        feedback: (_, k) => stairs(k),
      })
      watch.close()
      const repeats = findings.filter((f) => f.quantity === 'setpoints repeated')
      expect(repeats.length).toBe(found)
      if (found > 0) expect(repeats[0]).toMatchObject({ severity: 'failure', stop: null })
    }
  })
})

describe('setpoints watch, what the command asks', () => {
  const standing = { setpoint: () => 0, feedback: () => 0 }

  it('finds an arm whose setpoints stand while its side is asked to move, and only that arm', () => {
    const { run, findings } = watching('setpoints')
    ready(run).stage('play').cycles(10, standing).command(0.3)
    const from = run.k
    run.cycles(400, { ...standing, setpoint: (j, k) => (j < 3 ? 0 : (k - from) * COUNT) })
    expect(told(findings)).toEqual(['failure port way asked for while setpoints stood'])
    // 0.4 m/s2 and 2 m/s3: jerk alone for 0.2 s, 2 t^3 / 6 = 2.7 mm and 0.04 m/s; then 0.04 t + 0.2 t^2 = 47.3 mm more at 0.397 s.
    expect((findings[0]!.t - from * NS) / 1e9).toBeCloseTo(0.2 + 0.397, 1)
    expect(findings[0]!.value).toBeGreaterThan(0.05)
  })

  it('is quiet while nothing is asked, and of the side that is asked for nothing', () => {
    const { run, findings } = watching('setpoints')
    ready(run).stage('play').cycles(600, standing)
    // Surge equals half the track times yaw: port stands.
    run.command(0.15, 0.15)
    const from = run.k
    run.cycles(600, { ...standing, setpoint: (j, k) => (j < 3 ? 0 : (k - from) * COUNT) })
    expect(findings).toEqual([])
  })
})

describe('setpoints watch, the joints and the ramp of a stroke', () => {
  const DIFFERENT = 'way asked for while one setpoint stood'
  const ramp = (acceleration: number, jerk: number) =>
    otherwise({ rig: (rig) => ({ ...rig, driver: { ...rig.driver, acceleration, jerk } }) })
  const play = (driver: ReturnType<typeof otherwise> | undefined, orders: readonly Order[], lasts: number) =>
    driven('setpoints', { orders, lasts, ...(driver ? { driver } : {}) })

  it('is quiet on strokes of the reference driver, and on commands that come while it parks', () => {
    const orders = [
      { at: 0.5, surge: 0.45 },
      { at: 6, surge: 0 },
      { at: 9.1, surge: 0.5 },
      { at: 14, surge: -0.3, yaw: 0.1 },
      { at: 19, surge: 0 },
      { at: 22.3, surge: 0.05, yaw: 0.05 },
    ]
    expect(told(play(undefined, orders, 30).findings)).toEqual([])
  })

  // Lifting ends and carrying begins at rest, and so do both: what comes just then finds setpoints that hardly move.
  it.each([8.8, 9, 9.2, 9.4, 9.6, 9.8, 10, 10.2, 10.4, 10.6, 10.8, 11, 11.2])(
    'a command at %f s waits till the blade is parked',
    (at) => {
      const orders = [
        { at: 0.5, surge: 0.3 },
        { at: 6, surge: 0 },
        { at, surge: 0.5 },
      ]
      // In counts they stand where lifting ends and carrying begins.
      const inCounts = otherwise({ hands: (out) => out.set(out.map(whole)) })
      const { findings, figure } = play(inCounts, orders, 14)
      expect(findings.filter((f) => f.quantity === 'way asked for while setpoints stood')).toEqual([])
      // The first periods of a ramp, of jerk alone, are less than a count.
      expect(figure('port', 'way asked for while setpoints stood')).toBeLessThan(5e-3)
    },
  )

  it.each([0, 3, 5])('finds a joint (%i of its arm) that is never led, after a whole stroke', (joint) => {
    const { findings } = play(
      otherwise({ hands: (out) => out.fill(DEMO_PARK[joint]!, joint, joint + 1) }),
      [{ at: 0.5, surge: 0.3 }],
      9,
    )
    const of = findings.filter((f) => f.quantity === DIFFERENT)
    expect(of.map((f) => f.place)).toEqual([`port.${['swing', '', '', 'roll', '', 'feather'][joint]}`])
    // 2.5 lengths of 0.6 m: half of the ramp's 0.95 s is lost.
    expect(of[0]!.t / 1e9).toBeCloseTo(0.5 + 1.5 / 0.3 + 0.475, 1)
  })

  it.each([0, 1, 2, 3, 4, 5])(
    'finds a joint (%i of its arm) that is led no longer, wherever it stands',
    (joint) => {
      // From the midst of a stroke on, as little as the joint may move in it.
      let k = 0
      let stale: number | null = null
      const { findings } = play(
        otherwise({
          hands: (out) => {
            if (++k * PERIOD < 4) return
            stale ??= out[joint]!
            out[joint] = stale
          },
        }),
        [{ at: 0.5, surge: 0.3 }],
        10,
      )
      const of = findings.filter((f) => f.quantity === DIFFERENT)
      expect(of).toHaveLength(1)
      // 2.5 lengths of 0.6 m from there.
      expect(of[0]!.t / 1e9).toBeCloseTo(4 + 1.5 / 0.3, 1)
    },
  )

  it('says nothing of a joint that an arm could spare', () => {
    const spare = (text: string) =>
      text.replace('constrained: [x, y, z, feather, lean, pitch]', 'constrained: [x, y, z, feather, lean]')
    const { findings } = driven('setpoints', {
      change: spare,
      orders: [{ at: 0.5, surge: 0.3 }],
      lasts: 9,
      driver: (rig) => otherwise({ hands: (out) => out.fill(DEMO_PARK[3]!, 3, 4) })(rig),
    })
    expect(findings.filter((f) => f.quantity === DIFFERENT)).toEqual([])
  })

  it('an arm that moves before it is asked to does not set off', () => {
    // 0.1 rad/s of the swing joint, on about a metre, where 0.03 m/s and half as much again as the ramp are permitted.
    const wanders = otherwise({
      hands: (out, k) => {
        out[0] = out[0]! + 0.5 * (1 - Math.cos((k * PERIOD) / 3))
      },
    })
    const { findings } = play(wanders, [{ at: 2, surge: 0.1 }], 3)
    expect(findings.filter((f) => f.quantity === 'blade speed asked for on the ramp')).toEqual([])
  })

  it.each([
    [0.4, 2, 0],
    [0.5, 2.5, 0],
    [0.8, 8, 0],
    [4, 200, 2],
  ])('a ramp of %f m/s2 and %f m/s3, where the rig has 0.4 and 2, makes %i findings', (a, j, count) => {
    const { findings } = play(ramp(a, j), [{ at: 0.5, surge: 0.45 }], 4)
    const of = findings.filter((f) => f.quantity === 'blade speed asked for on the ramp')
    expect(of.length).toBe(count)
    for (const f of of) {
      expect(f.stop).toBe(null)
      expect(f.value).toBeGreaterThan(f.limit)
      expect(f.t / 1e9).toBeLessThan(0.5 + 0.45 / 0.4)
    }
  })
})

it('bears setpoints that stand while commands are withheld from the driver, and no longer', () => {
  const standing = { setpoint: () => 0, feedback: () => 0 }
  const { run, findings } = watching('setpoints')
  ready(run).stage('play').command(0.3).see({ kind: 'withheld', t: run.t, begins: true })
  run.cycles(400, standing)
  expect(findings).toEqual([])
  run.see({ kind: 'withheld', t: run.t, begins: false }).cycles(200, standing)
  expect(told(findings)).toEqual([
    'failure port way asked for while setpoints stood',
    'failure starboard way asked for while setpoints stood',
  ])
})

describe('setpoints watch, enabling', () => {
  const enabled = (run: Transcript, joint: number): void => {
    run.see({
      kind: 'state',
      t: run.t,
      joint,
      state: 'operation enabled',
      follows: true,
      word: 0x1637,
    })
  }

  it.each([
    [0.9, 0],
    [1.1, 1],
  ])('a setpoint %d deg away from the joint when its drive begins to follow', (degrees, found) => {
    const { run, findings, figure } = watching('setpoints')
    run.stage('enable').cycles(20, { setpoint: (j) => (j === 3 ? degrees * DEG : 0), feedback: () => 0 })
    for (let j = 0; j < 6; j++) enabled(run, j)
    expect(findings.length).toBe(found)
    expect(figure('starboard.roll', 'setpoint away from the joint at enabling')).toBeCloseTo(degrees * DEG, 9)
    if (found > 0) {
      expect(findings[0]).toMatchObject({ place: 'starboard.roll', severity: 'failure', stop: 1, t: run.t })
    }
  })

  it('a drive that follows before it was sent any setpoint', () => {
    const { run, findings } = watching('setpoints')
    run.stage('enable').cycles(20, { feedback: () => 0 })
    enabled(run, 2)
    expect(told(findings)).toEqual(['failure port.feather setpoint at enabling'])
    expect(findings[0]!.stop).toBe(1)
  })
})

it('takes its limits from the rig', () => {
  const { run, findings } = watching('setpoints', {
    watch: { setpoints: { silent: '50 ms', still: '1 m', step: '10 deg' } },
  })
  ready(run).stage('play')
  run.cycles(50, led(run.k)).cycles(9, { feedback: () => 0 })
  expect(findings).toEqual([])
})
