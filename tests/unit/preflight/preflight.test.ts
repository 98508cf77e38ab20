/** Each line of a preflight passes on the demo rig, and warns or fails when that is broken which it looks at, and nothing else is. */
import { describe, expect, it } from 'vitest'
import { parseBusAddress } from '../../../src/files/bus-address.js'
import { loadRig, loadScenario } from '../../../src/files/load.js'
import type { Joint, Rig } from '../../../src/files/rig.js'
import { type Check, type Line, worstLevel } from '../../../src/preflight/line.js'
import { preflight } from '../../../src/preflight/preflight.js'
import { preflightText } from '../../../src/preflight/text.js'
import { type WatchSettings, watchSchemas } from '../../../src/watch/settings.js'
import { change, DEMO_RIG, FRAMES_RIG } from '../../setup/runs.js'

type WatchedRig = Rig<WatchSettings>

const DEG = Math.PI / 180
const DEMO = loadRig(DEMO_RIG, 'rig.yaml', watchSchemas)
/** Two strokes of the port arm and some, and to the park place. */
const SCRIPT = `name: two-strokes
about: Two strokes.
duration: "9 s"
commands:
  - { at: "0.2 s", surge: "0.3 m/s", yaw: "0 deg/s", over: "0.3 s" }
  - { at: "8 s", surge: "0 m/s", yaw: "0 deg/s", over: "0.3 s" }
expect: { outcome: finish, parked: true }
`
const found = (rig: WatchedRig) => preflight(rig, [loadScenario(SCRIPT, 'scenario.yaml', rig)])
const DEMO_FOUND = found(DEMO)

/** Checks that are worse than on the demo rig, with their levels. */
function worse({ lines }: { lines: readonly Line[] }): [Check, string][] {
  const levelOf = (of: readonly Line[], check: Check) => worstLevel(of.filter((l) => l.check === check))
  const checks = [...new Set(lines.map(({ check }) => check))]
  return checks.flatMap((check): [Check, string][] => {
    const level = levelOf(lines, check)
    return level === 'pass' || level === levelOf(DEMO_FOUND.lines, check) ? [] : [[check, level]]
  })
}

/** The demo rig with every joint of a name changed. */
function withJoint(name: string, to: (joint: Joint) => Partial<Joint>): WatchedRig {
  const joints = DEMO.joints.map((j) => (j.name === name ? { ...j, ...to(j) } : j))
  return { ...DEMO, joints }
}

describe('the demo rig', () => {
  it('has a line for everything that can be looked at, none of which fails', () => {
    const checks = new Set(DEMO_FOUND.lines.map(({ check }) => check))
    expect([...checks]).toEqual([
      ...['bus load', 'response time', 'reach', 'joint range', 'singularity', 'side speed'],
      ...['mount stiffness', 'mount frequency', 'vibration line', 'heel', 'joint speed'],
      ...['acceleration', 'cadence', 'torque', 'heat', 'watchdog', 'guardian', 'braking time'],
      ...['braking torque', 'clearance', 'stroke harmonic', 'deflection'],
    ])
    expect(worstLevel(DEMO_FOUND.lines)).not.toBe('fail')
    expect(DEMO_FOUND.unchecked).toEqual(['No water: the torques are those of arms in air'])
    expect(DEMO_FOUND.cautions).toHaveLength(1)
  })

  it('says so in lines that fit', () => {
    for (const width of [60, 80, 100]) {
      const lines = preflightText(DEMO, DEMO_FOUND, width)
      expect(lines[0]).toBe(`Preflight: ${worstLevel(DEMO_FOUND.lines)}`)
      for (const line of lines.slice(0, lines.indexOf(''))) expect(line.length).toBeLessThanOrEqual(width)
    }
  })
})

describe('what is broken, and what it is called', () => {
  const slow = (bitrate: string) =>
    loadRig(change(DEMO_RIG, 'bitrate: "1 Mbit/s"', `bitrate: "${bitrate}"`), 'rig.yaml', watchSchemas)
  const limits = (joint: Joint, changed: Partial<Joint['limits']>) => ({
    limits: { ...joint.limits, ...changed },
  })
  const shoulder = (changed: (j: Joint) => Partial<Joint>) => withJoint('port.shoulder', changed)

  it.each<[string, () => WatchedRig, [Check, string][]]>([
    // 31.3 % at 1 Mbit/s: 62.6 % at half of it, and all frames twice as long.
    [
      'half the bit rate',
      () => slow('500 kbit/s'),
      [
        ['bus load', 'warn'],
        ['response time', 'fail'],
      ],
    ],
    [
      'an eighth of the bit rate',
      () => slow('125 kbit/s'),
      [
        ['bus load', 'fail'],
        ['response time', 'fail'],
        ['watchdog', 'fail'],
        ['guardian', 'fail'],
      ],
    ],
    [
      'a range that ends nearer than the watch warns',
      () => withJoint('port.elbow', (j) => limits(j, { upper: j.limits.upper - 35 * DEG })),
      [
        ['joint range', 'warn'],
        ['watchdog', 'warn'],
        ['guardian', 'warn'],
      ],
    ],
    [
      'a singularity measure that must be twice as large',
      () => ({ ...DEMO, driver: { ...DEMO.driver, singularity: 0.08 } }),
      [['singularity', 'warn']],
    ],
    [
      'a fastest side speed that the joints do not allow',
      () => ({ ...DEMO, stroke: { ...DEMO.stroke, fastest: 0.6 } }),
      [['side speed', 'fail']],
    ],
    [
      'a drive that may give half the torque',
      () => shoulder((j) => limits(j, { torque: j.limits.torque / 2 })),
      [['torque', 'fail']],
    ],
    [
      'a drive whose peak is lower than what it is allowed',
      () => shoulder((j) => ({ rating: { ...j.rating!, peak: 13.5 } })),
      [['torque', 'warn']],
    ],
    [
      'a drive that gets hot',
      () => shoulder((j) => ({ rating: { ...j.rating!, continuous: 7 } })),
      [['heat', 'fail']],
    ],
    [
      'a heavier paddle',
      () => ({ ...DEMO, arms: DEMO.arms.map((arm) => ({ ...arm, paddle: { ...arm.paddle, mass: 2 } })) }),
      [['torque', 'fail']],
    ],
    [
      'drives that wait for a second',
      () => ({ ...DEMO, link: { ...DEMO.link, heartbeatTimeout: 1 } }),
      [['watchdog', 'fail']],
    ],
    [
      'a guardian that waits for a second',
      () => ({ ...DEMO, guardian: { timeout: 1 } }),
      [['guardian', 'fail']],
    ],
    [
      'torque that is gone before the arms are still',
      () => ({ ...DEMO, stop: { ...DEMO.stop, timeout: 0.1 } }),
      [['braking time', 'fail']],
    ],
    [
      'less room than the rig wants',
      () => ({ ...DEMO, clearance: { ...DEMO.clearance!, least: 0.2, warn: 0.2 } }),
      [
        ['clearance', 'fail'],
        ['deflection', 'warn'],
      ],
    ],
    [
      'room that is less than the warning',
      () => ({ ...DEMO, clearance: { ...DEMO.clearance!, warn: 0.2 } }),
      [['clearance', 'warn']],
    ],
    [
      'a mount that rings with its vibration line',
      () => ({ ...DEMO, mount: { ...DEMO.mount!, lines: [55] } }),
      [['vibration line', 'warn']],
    ],
    [
      'a mount so soft that strokes shake it',
      () => ({
        ...DEMO,
        mount: { ...DEMO.mount!, beam: { kind: 'measured', load: 20, deflection: 0.01, mass: 0 } },
      }),
      [
        ['stroke harmonic', 'warn'],
        ['deflection', 'warn'],
      ],
    ],
    [
      'a craft that is stiff no more',
      () => ({ ...DEMO, hull: { ...DEMO.hull!, metacentricHeight: 0.05 } }),
      [['heel', 'warn']],
    ],
  ])('%s', (_, rig, expected) => {
    expect(worse(found(rig()))).toEqual(expected)
  })

  it('a joint that is too slow for the commands: for them, and for every faster stroke', () => {
    const lame = withJoint('starboard.feather', (j) => limits(j, { speed: 200 * DEG }))
    const { lines } = found(lame)
    const line = lines.find(({ check }) => check === 'joint speed')!
    expect(line).toMatchObject({
      level: 'fail',
      place: 'starboard.feather',
      scenarios: ['two-strokes'],
      limit: 1,
    })
    // 60.9 % of 360 deg/s.
    expect(line.value * 200).toBeCloseTo(0.609 * 360, 0)
    expect(worse(found(lame))).toEqual([
      ['side speed', 'fail'],
      ['joint speed', 'fail'],
      ['cadence', 'warn'],
    ])
  })

  it('blades that slip stroke faster for the same way, and the joints allow no other cadence for it', () => {
    const cadence = (slip: number) =>
      found({ ...DEMO, driver: { ...DEMO.driver, slip } }).lines.find(({ check }) => check === 'cadence')!
    const [none, fifth] = [cadence(0), cadence(0.2)]
    expect(fifth.value).toBeGreaterThan(1.02 * none.value)
    expect(fifth.limit! / none.limit!).toBeCloseTo(1, 2)
  })

  it('a serial line without a processor of its own for the loop', () => {
    const buses = DEMO.buses.map((bus, i) =>
      i === 0 ? { ...bus, address: parseBusAddress('slcan:/dev/ttyUSB0')!, serialRate: 12e6 } : bus,
    )
    const line = (processor: number | null) =>
      found({ ...DEMO, buses, realtime: { ...DEMO.realtime, processor } }).lines.find(
        ({ check }) => check === 'processor',
      )
    expect(line(null)).toMatchObject({ level: 'warn', place: 'port-can' })
    expect(line(null)!.says).toMatch(/README/)
    expect(line(1)).toMatchObject({ level: 'pass', place: 'port-can' })
  })

  it('a stroke out of reach: nothing is said of scenarios, and buses are looked at all the same', () => {
    const far = found({ ...DEMO, stroke: { ...DEMO.stroke, length: 1.7 } })
    const checks = new Set(far.lines.map(({ check }) => check))
    expect(checks).toContain('bus load')
    expect(checks).not.toContain('joint speed')
    expect(far.lines.find(({ check }) => check === 'reach')).toMatchObject({ level: 'fail', place: 'port' })
    expect(far).toMatchObject({ demands: [], clearance: null, greatestSideSpeed: null })
    expect(preflightText(DEMO, far, 80).join('\n')).toMatch(/^port cannot reach\n {2}ahead, phase /m)
  })
})

describe('what nobody can look at', () => {
  it('is said: no masses, no ratings, no thickness, a stop that does not brake', () => {
    const bare = {
      ...DEMO,
      clearance: null,
      mount: null,
      stop: { ...DEMO.stop, category: 0 as const },
      joints: DEMO.joints.map((j) => ({ ...j, body: j.arm === 0 ? null : j.body, rating: null })),
    }
    const { lines, unchecked } = found(bare)
    expect(unchecked.map((says) => says.split(':')[0])).toEqual([
      'No distances',
      'No torques of port',
      'No heat of starboard.swing, starboard.shoulder, starboard.elbow, starboard.roll, starboard.pitch, starboard.feather',
      'No water',
      'No mount',
      'No heel',
      'No braking by a stop',
    ])
    expect(lines.find(({ check }) => check === 'torque')!.place).toBe('starboard.shoulder')
    expect(unchecked.find((says) => says.startsWith('No heel'))).toContain('(port.swing has none)')
    const absent = [
      'heat',
      'clearance',
      'braking time',
      'mount stiffness',
      'stroke harmonic',
      'heel',
    ] as const
    for (const check of absent) expect(lines.filter((line) => line.check === check)).toEqual([])
  })

  it('drives that speak frames of their own: no watchdog, but a guardian', () => {
    const { lines, unchecked } = found(loadRig(FRAMES_RIG, 'rig.yaml', watchSchemas))
    expect(unchecked.some((says) => says.startsWith('No watchdog on port-can, starboard-can:'))).toBe(true)
    expect(lines.some(({ check }) => check === 'watchdog')).toBe(false)
    expect(lines.find(({ check }) => check === 'guardian')!.level).toBe('pass')
  })
})
