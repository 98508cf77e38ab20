/** What follows the setpoints of a script, on setpoints whose figures are known in closed form; and the lines that are made of it. */
import { describe, expect, it } from 'vitest'
import type { Look, ScenarioWalk } from '../../../src/bench/scenario-walk.js'
import type { BusTimes, MessageTime } from '../../../src/bus/bus-times.js'
import type { ReachReport } from '../../../src/driver/reach.js'
import type { ReferenceDriver } from '../../../src/driver/reference.js'
import { loadRig } from '../../../src/files/load.js'
import type { Scenario } from '../../../src/files/scenario.js'
import { friction } from '../../../src/motion/friction.js'
import { isWeighed, LadenArm } from '../../../src/motion/laden-arm.js'
import { ownFrequency } from '../../../src/motion/mount.js'
import { armMass } from '../../../src/motion/water/athwart.js'
import { armHeels } from '../../../src/motion/water/heel.js'
import { armLines } from '../../../src/preflight/arm-lines.js'
import { busLines } from '../../../src/preflight/bus-lines.js'
import { CadenceLook } from '../../../src/preflight/cadence-look.js'
import { demandOf } from '../../../src/preflight/demands.js'
import { heelLines } from '../../../src/preflight/heel-lines.js'
import { MiddleOfThree } from '../../../src/preflight/middle.js'
import { MotionLook } from '../../../src/preflight/motion-look.js'
import { mountLines } from '../../../src/preflight/mount-lines.js'
import { Peaks } from '../../../src/preflight/peaks.js'
import { scenarioLines } from '../../../src/preflight/scenario-lines.js'
import { lookAtScripts, waitsOf } from '../../../src/preflight/script-looks.js'
import { TorqueLook } from '../../../src/preflight/torque-look.js'
import { watchSchemas } from '../../../src/watch/settings.js'
import { DEMO_RIG } from '../../setup/runs.js'

const RIG = loadRig(DEMO_RIG, 'rig.yaml', watchSchemas)
/** s between two looks */
const T = 0.01
const N = RIG.joints.length
const indexOf = (name: string): number => RIG.joints.findIndex((j) => j.name === name)
const middle = (j: number): number => {
  const { lower, upper } = RIG.joints[j]!.limits
  return (lower + upper) / 2
}

/** Sides of a driver as the looks see them. */
function sidesOf() {
  const side = () => ({ state: 'stroking', phase: 0 })
  return { port: side(), starboard: side() }
}
const driverOf = (sides: ReturnType<typeof sidesOf>) =>
  ({ sides }) as unknown as Pick<ReferenceDriver, 'sides'>

/** One joint at a time goes from the middle of its range, at rest for three looks, and then even. @param speeds rad/s by joint */
function moved(
  speeds: Readonly<Record<string, number>>,
  looks = 30,
  offset: Readonly<Record<string, number>> = {},
) {
  const sides = sidesOf()
  const waits = [{ who: 'watchdog', seconds: new Float64Array(N).fill(0.1) }] as const
  const motion = new MotionLook(RIG, waits)
  const torque = new TorqueLook(RIG)
  const three = new MiddleOfThree(RIG, driverOf(sides), T, [motion, torque])
  const place = (j: number, k: number): number => {
    const { name } = RIG.joints[j]!
    return middle(j) + (offset[name] ?? 0) + (speeds[name] ?? 0) * T * Math.max(0, k - 3)
  }
  for (let k = 0; k < looks; k++) {
    sides.port.phase = k / 100
    sides.starboard.phase = 0.5 + k / 100
    const q = Float64Array.from({ length: N }, (_, j) => place(j, k))
    three.see(q)
  }
  return { motion, torque, waits, place }
}

describe('motion', () => {
  const swing = indexOf('port.swing')
  const { limits } = RIG.joints[swing]!
  const { motion, place } = moved({ 'port.swing': 1 })

  it('has speed and acceleration as shares of their limits, with the phase of the look that they are of', () => {
    expect(motion.speed.value[swing]).toBeCloseTo(1 / limits.speed, 9)
    // From rest to 1 rad/s between looks 3 and 4.
    expect(motion.acceleration.value[swing]).toBeCloseTo(1 / T / limits.acceleration, 6)
    expect(motion.acceleration.phase[swing]).toBeCloseTo(0.03, 9)
    expect(motion.acceleration.phase[indexOf('starboard.swing')]).toBeCloseTo(0.52 - 0.01, 9)
  })

  it('has the speed of the fastest single step, which a mean over two would halve', () => {
    const sides = sidesOf()
    const one = new MotionLook(RIG, [])
    const three = new MiddleOfThree(RIG, driverOf(sides), T, [one])
    for (let k = 0; k < 9; k++) {
      // From rest to rest within one look.
      three.see(Float64Array.from({ length: N }, (_, j) => middle(j) + (j === swing && k >= 5 ? 0.02 : 0)))
    }
    expect(one.speed.value[swing]).toBeCloseTo(0.02 / T / limits.speed, 9)
  })

  it('runs on for the wait, and until it is braked: 1 rad/s for 0.1 s and 1/(2 a), on from where it is', () => {
    const [ran] = motion.runsOn
    const way = 0.1 + 1 / (2 * RIG.link.quickStop)
    expect(ran!.way.value[swing]).toBeCloseTo(way, 9)
    // Of 30 looks the last in the middle is 28.
    const off = place(swing, 28) + way - middle(swing)
    expect(ran!.share.value[swing]).toBeCloseTo((2 * off) / (limits.upper - limits.lower), 9)
  })

  it('is held against the end that a joint goes to, not the one that it comes from', () => {
    const away = moved({ 'port.swing': -1 }, 10, { 'port.swing': 1 }).motion.runsOn[0]!
    expect(away.share.value[swing]).toBeLessThan(0)
    expect(
      moved({ 'port.swing': 1 }, 10, { 'port.swing': 1 }).motion.runsOn[0]!.share.value[swing],
    ).toBeGreaterThan(0)
  })
})

describe('torques', () => {
  const speeds = { 'port.swing': 0.8, 'port.elbow': -0.6 }
  const { torque, place } = moved(speeds)
  const arm = RIG.arms[0]!
  const own = arm.joints.map((j) => RIG.joints[j]!).filter(isWeighed)
  const laden = new LadenArm(arm, own)

  /** N m, all joints of the arm, with friction, at a look: braked from their speeds, or at rest. */
  function torques(k: number, moving: boolean): Float64Array {
    const speed = (name: string): number => (speeds as Record<string, number>)[name] ?? 0
    const qd = Float64Array.from(own, ({ name }) => (moving ? speed(name) : 0))
    const { quickStop } = RIG.link
    const out = new Float64Array(own.length)
    const rubbing = new Float64Array(own.length)
    laden.dynamics.inverse(
      Float64Array.from(arm.joints, (j) => place(j, k)),
      qd,
      qd.map((v) => -Math.sign(v) * quickStop),
      null,
      out,
    )
    friction(laden.trains, qd, rubbing)
    return out.map((t, i) => t + rubbing[i]!)
  }

  it('of a quick stop are those of joints that slow down, while those at rest stay there', () => {
    for (const [i, { index, name }] of own.entries()) {
      const braked = Array.from({ length: 24 }, (_, n) => Math.abs(torques(5 + n, true)[i]!))
      const most = Math.max(Math.abs(torques(1, false)[i]!), ...braked)
      // The look at which a joint begins to move, at half the speed, is not in the closed form: 1 %.
      expect(Math.abs(torque.braking.beside[index]! / most - 1), name).toBeLessThan(0.01)
    }
  })

  it('of a quick stop are those of a joint at rest while it goes slower than one control period of braking takes away', () => {
    const j = indexOf('port.swing')
    const least = RIG.link.quickStop * RIG.control.period
    const { viscous, coulomb } = RIG.joints[j]!.train
    const braked = (speed: number) => moved({ 'port.swing': speed }).torque.braking.beside[j]!
    // The swing axis is upright, so that nothing is left but friction: no weight, no inertia.
    expect(braked(0.9 * least)).toBeCloseTo(viscous * 0.9 * least + coulomb[0], 9)
    // Beyond it the whole arm is braked: paddle and links about that axis, of some kg m2.
    expect(braked(1.1 * least)).toBeGreaterThan(braked(0.9 * least) + RIG.link.quickStop * 0.2)
  })

  it('have their root mean square over all that was seen', () => {
    const j = indexOf('port.shoulder')
    const still = moved({}).torque
    expect(still.effective(j)).toBeCloseTo(still.torque.beside[j]!, 9)
  })
})

describe('cadence', () => {
  /** @param port, starboard phase and whether it strokes, over s */
  function seen(
    port: (t: number) => readonly [number, boolean],
    starboard: (t: number) => readonly [number, boolean] = () => [0, false],
    seconds = 12,
  ) {
    const sides = sidesOf()
    const look = new CadenceLook(RIG, driverOf(sides))
    for (let k = 0; k * T <= seconds; k++) {
      for (const [side, of] of [
        ['port', port],
        ['starboard', starboard],
      ] as const) {
        const [phase, strokes] = of(k * T)
        sides[side].phase = phase - Math.floor(phase)
        sides[side].state = strokes ? 'stroking' : 'parked'
      }
      look.see(new Float64Array(0), k * T)
    }
    return look
  }

  it('is that from catch to catch, exactly, ahead and astern, of the faster side', () => {
    const ahead = seen((t) => [0.37 * t, true]).fastest!
    expect(ahead.side).toBe('port')
    expect(ahead.rate).toBeCloseTo(0.37, 9)
    const both = seen(
      (t) => [0.37 * t, true],
      (t) => [0.9 - 0.53 * t, true],
    ).fastest!
    expect(both.side).toBe('starboard')
    expect(both.rate).toBeCloseTo(0.53, 9)
    // 0.5/s until 5 s, then 0.3/s: catches at 2, 4, 6.67 and 10 s.
    const slower = seen((t) => [t < 5 ? 0.5 * t : 2.5 + 0.3 * (t - 5), true]).fastest!
    expect(slower.rate).toBeCloseTo(0.5, 9)
  })

  it('is none of a blade that goes to and fro over the catch, or that parks between', () => {
    expect(seen((t) => [0.2 * Math.sin(2 * t), true]).fastest).toBeNull()
    // 0.4/s, parked for half a second in the middle of each stroke.
    expect(seen((t) => [0.4 * t, t % 2.5 < 1 || t % 2.5 > 1.5]).fastest).toBeNull()
  })

  it('has the harmonic that comes nearest to the mount, of both sides', () => {
    const own = ownFrequency(RIG.mount!)
    // Of the ten per cent, and of the one per cent, that ten strokes a second come near it.
    const look = seen(
      (t) => [(own / 10.1) * t, true],
      (t) => [(own / 11) * t, true],
      4,
    )
    const { side, rate, order, margin } = look.nearest!
    expect([side, order]).toEqual(['starboard', 11])
    expect(rate).toBeCloseTo(own / 11, 6)
    expect(margin).toBeCloseTo(0, 6)
  })
})

it('a measured vibration is told on the side of the mount on which it lies', () => {
  const own = ownFrequency(RIG.mount!)
  const says = (line: number) =>
    mountLines({ mount: { ...RIG.mount!, lines: [line] } }).find(({ check }) => check === 'vibration line')!
      .says
  expect(says(own / 2)).toMatch(/50 % below the mount's/)
  expect(says(1.5 * own)).toMatch(/50 % above the mount's/)
})

describe('demands', () => {
  it('are of the fastest speed of each side, either way, and of the joints of that side', () => {
    const peaks = (of: readonly (readonly [string, number])[]) => {
      const p = new Peaks(N)
      for (const [name, value] of of) p.offer(indexOf(name), value, 0)
      return p
    }
    const motion = {
      speed: peaks([
        ['port.elbow', 0.4],
        ['starboard.roll', 0.9],
      ]),
      acceleration: peaks([
        ['port.pitch', 0.3],
        ['starboard.swing', 0.2],
      ]),
    } as unknown as MotionLook
    const commands = [
      { at: 0, surge: 0.2, yaw: 0.1, over: 0 },
      { at: 1, surge: -0.4, yaw: 0, over: 0 },
    ]
    // Track 2 m: port 0.1, starboard 0.3 m/s, and both astern at 0.4.
    const of = (n: number) =>
      demandOf(RIG, { name: 'x', commands: commands.slice(0, n) } as unknown as Scenario, motion).sides
    expect(of(1).map((s) => s.sideSpeed)).toEqual([expect.closeTo(0.1, 12), expect.closeTo(0.3, 12)])
    expect(of(2).map((s) => s.sideSpeed)).toEqual([-0.4, -0.4])
    expect(of(1).map((s) => [s.speed!.joint, s.acceleration!.joint])).toEqual([
      ['port.elbow', 'port.pitch'],
      ['starboard.roll', 'starboard.swing'],
    ])
  })
})

describe('heel', () => {
  const heavier = {
    ...RIG,
    arms: RIG.arms.map((arm) => (arm.side === 'port' ? arm : { ...arm, paddle: { ...arm.paddle, mass: 3 } })),
  }
  const park = Float64Array.from(RIG.joints, (_, j) => middle(j))

  it('is told of the heavier side, and of the arm that is worse dead', () => {
    const heels = armHeels(
      heavier.arms.map((arm) => {
        const own = arm.joints.map((j) => RIG.joints[j]!).filter(isWeighed)
        return armMass(
          arm,
          own,
          Float64Array.from(arm.joints, (j) => park[j]!),
        )
      }),
      { displacement: RIG.craft.mass, metacentricHeight: RIG.hull!.metacentricHeight! },
    )
    const [side, dead] = heelLines(heavier, park)
    const [port, starboard] = [heels.toPort, -heels.toStarboard]
    expect(Math.abs(port - starboard)).toBeGreaterThan(1e-3)
    expect(side).toMatchObject({
      value: Math.max(port, starboard),
      place: port > starboard ? 'port' : 'starboard',
    })
    expect(dead).toMatchObject({ value: Math.max(...heels.dead.map(Math.abs)), place: 'starboard' })
  })

  it('goes from where each arm is parked itself', () => {
    const other = park.slice()
    other[indexOf('starboard.shoulder')]! += 0.6
    const [, dead] = heelLines(heavier, park)
    const [, elsewhere] = heelLines(heavier, other)
    expect(Math.abs(elsewhere!.value - dead!.value)).toBeGreaterThan(1e-3)
  })
})

describe('buses', () => {
  const message = (of: Partial<MessageTime>): MessageTime =>
    ({
      from: 'host',
      use: 'setpoint',
      joint: null,
      id: 1,
      bytes: 8,
      period: 1,
      worst: 1e-3,
      deadline: 5e-3,
      ...of,
    }) as MessageTime
  const bus = (name: string, messages: MessageTime[]): BusTimes => ({ bus: name, load: 0.1, messages })

  it('have the message that is the latest for its period, and say when it is nearly late', () => {
    const late = (worst: number) =>
      busLines(RIG, [
        bus('port-can', [
          message({ worst: 2e-3, deadline: 10e-3 }),
          message({ use: 'heartbeat', worst, deadline: 1e-3 }),
        ]),
      ]).find(({ check }) => check === 'response time')!
    expect(late(0.75e-3)).toMatchObject({ level: 'pass', value: 0.75e-3, limit: 1e-3 })
    expect(late(0.85e-3)).toMatchObject({ level: 'warn', value: 0.85e-3 })
    expect(late(1.05e-3).level).toBe('fail')
    expect(late(Number.POSITIVE_INFINITY).level).toBe('fail')
  })

  it('make arms wait for their own last heartbeat, and for their own stop', () => {
    const own = (scale: number) => [
      message({ use: 'heartbeat', worst: scale * 1e-3 }),
      message({ use: 'controlword', worst: scale * 2e-3 }),
      message({ use: 'setpoint', worst: 0.2 }),
      message({ from: 'arms', use: 'heartbeat', worst: 0.3 }),
    ]
    const [watchdog, guardian] = waitsOf(RIG, [bus('port-can', own(1)), bus('starboard-can', own(3))])
    const [port, starboard] = [indexOf('port.elbow'), indexOf('starboard.elbow')]
    expect(watchdog!.seconds[port]! - RIG.link.heartbeatTimeout).toBeCloseTo(1e-3, 9)
    expect(watchdog!.seconds[starboard]! - RIG.link.heartbeatTimeout).toBeCloseTo(3e-3, 9)
    expect(guardian!.seconds[port]! - RIG.guardian.timeout).toBeCloseTo(2e-3, 9)
    expect(guardian!.seconds[starboard]! - RIG.guardian.timeout).toBeCloseTo(6e-3, 9)
  })
})

describe('lines', () => {
  it('warn of a joint inside the margin of the limits watch, of the one that is the deepest in its own', () => {
    const report = (margins: ReachReport['margins']) =>
      ({
        arm: 'port',
        reachable: true,
        failures: [],
        margins,
        singularity: null,
        smallest: null,
      }) as unknown as ReachReport
    const insetOf = (name: string) => {
      const { lower, upper } = RIG.joints[indexOf(name)]!.limits
      return ((1 - RIG.watch.limits.warning) * (upper - lower)) / 2
    }
    const range = (elbow: number, swing: number) =>
      armLines(
        RIG,
        [
          report([
            { joint: 'port.elbow', value: elbow * insetOf('port.elbow'), phase: 0.1 },
            { joint: 'port.swing', value: swing * insetOf('port.swing'), phase: 0.2 },
          ] as unknown as ReachReport['margins']),
        ],
        null,
      ).find(({ check }) => check === 'joint range')!
    expect(range(1.1, 1.05)).toMatchObject({ level: 'pass', place: 'port.swing', phase: 0.2 })
    expect(range(0.9, 1.05)).toMatchObject({ level: 'warn', place: 'port.elbow', phase: 0.1 })
    expect(range(-0.1, 1).level).toBe('fail')
  })

  it('tell what is left to the end of a range in radians, and warn of strokes faster than the joints allow', () => {
    const { motion, torque, waits, place } = moved({ 'port.swing': 1 })
    const sides = sidesOf()
    const cadence = new CadenceLook(RIG, driverOf(sides))
    for (let k = 0; k < 1000; k++) {
      sides.port.phase = (0.6 * k * T) % 1
      cadence.see(new Float64Array(0), k * T)
    }
    const looks = {
      scenarios: [{ name: 'x' } as Scenario],
      motion,
      torque,
      cadence,
      blade: null,
      least: null,
    }
    const lines = (most: number) => scenarioLines(RIG, looks, most, waits)
    const swing = indexOf('port.swing')
    const end = place(swing, 28) + 0.1 + 1 / (2 * RIG.link.quickStop)
    const watchdog = lines(1).find(({ check }) => check === 'watchdog')!
    expect(watchdog.place).toBe('port.swing')
    expect(watchdog.value).toBeCloseTo(RIG.joints[swing]!.limits.upper - end, 9)
    const level = (most: number) => lines(most).find(({ check }) => check === 'cadence')!.level
    expect([level(0.61), level(0.59)]).toEqual(['pass', 'warn'])
  })

  it('are made once for scenarios whose commands and length are the same, and for those alone', () => {
    const commands = [{ at: 0, surge: 0.1, yaw: 0, over: 0 }]
    const scenario = (name: string, duration: number, surge = 0.1) =>
      ({ name, duration, commands: [{ ...commands[0]!, surge }] }) as unknown as Scenario
    const walked: string[] = []
    const walk = {
      driver: driverOf(sidesOf()),
      period: T,
      walk: ({ name }: Scenario, looks: readonly Look[]) => {
        walked.push(name)
        for (const look of looks) look.see(new Float64Array(N), 0)
      },
    } as unknown as ScenarioWalk
    const all = [scenario('a', 5), scenario('b', 5), scenario('longer', 6), scenario('faster', 5, 0.2)]
    const looks = lookAtScripts({ ...RIG, clearance: null, mount: null }, all, walk, [])
    expect(walked).toEqual(['a', 'longer', 'faster'])
    expect(looks.map(({ scenarios }) => scenarios.map(({ name }) => name))).toEqual([
      ['a', 'b'],
      ['longer'],
      ['faster'],
    ])
  })
})
