/** What a preflight tells of many lines: the worst of each check, who else is not well, and tables. */
import { describe, expect, it } from 'vitest'
import type { BusTimes, MessageTime } from '../../../src/bus/bus-times.js'
import { readRigFile } from '../../../src/files/load.js'
import { type Line, levelOfShare } from '../../../src/preflight/line.js'
import type { Preflight } from '../../../src/preflight/preflight.js'
import { preflightText } from '../../../src/preflight/text.js'

const RIG = readRigFile('rigs/reservoir-skiff.yaml', {})

const told = (found: Partial<Preflight>): string =>
  preflightText(
    RIG,
    {
      ...{ lines: [], unchecked: [], cautions: [], buses: [], reach: [], demands: [] },
      ...{ clearance: null, greatestSideSpeed: null },
      ...found,
    },
    100,
  ).join('\n')

const line = (of: Partial<Line>): Line => ({
  ...{ check: 'joint speed', level: 'pass', place: 'port.roll', scenarios: ['a'], phase: null },
  ...{ value: 0.5, limit: 1, unit: 'share', says: 'so much' },
  ...of,
})

describe('of the lines of a check', () => {
  it('the one nearest to its limit is told, where more is worse', () => {
    const text = told({
      lines: [
        line({ value: 0.5, says: 'half', scenarios: ['a'] }),
        line({ value: 0.8, says: 'four fifths', scenarios: ['b', 'c'] }),
        line({ value: 0.3, says: 'a third', scenarios: ['d'] }),
      ],
    })
    expect(text).toMatch(/^ {2}pass {2}joint speed +port\.roll: four fifths; b, c$/m)
    expect(text).not.toMatch(/half|third|likewise/)
    expect(text).toContain('3 lines: 3 pass, 0 warn, 0 fail')
  })

  it.each(['clearance', 'watchdog', 'guardian', 'stroke harmonic'] as const)(
    'the least is told of %s, a margin',
    (check) => {
      const text = told({
        lines: [0.3, 0.1, 0.2].map((value) => line({ check, value, limit: 0.05, says: `is ${value}` })),
      })
      expect(text).toContain('is 0.1;')
    },
  )

  it('one that fails is told before one that passes, however near that is to a limit of its own', () => {
    const text = told({
      lines: [
        line({ check: 'torque', level: 'pass', value: 0.99, says: 'nearly', scenarios: ['a'] }),
        line({ check: 'torque', level: 'fail', value: 0.5, says: 'fails', scenarios: ['b'] }),
        line({ check: 'torque', level: 'fail', value: 0.4, says: 'too', scenarios: ['c', 'd'] }),
        line({ check: 'torque', level: 'warn', value: 0.9, says: 'warns', scenarios: ['f'] }),
      ],
    })
    expect(text).toMatch(/^ {2}fail {2}torque +port\.roll: fails; b; likewise: c and 2 more$/m)
    expect(text).not.toContain('nearly')
    expect(text).toMatch(/^Preflight: fail$/m)
  })

  it('those of the whole rig are all told', () => {
    const text = told({
      lines: ['port', 'starboard'].map((place) => line({ check: 'reach', place, scenarios: null })),
    })
    expect(text).toMatch(/port: so much\n.*starboard: so much\n/)
  })
})

it('a share passes up to its warning, fails beyond 1, and fails where nobody knows it', () => {
  const levels = [0.5, 0.9, 0.95, 1, 1.001, Number.POSITIVE_INFINITY, Number.NaN].map((x) =>
    levelOfShare(x, 0.9),
  )
  expect(levels).toEqual(['pass', 'pass', 'warn', 'warn', 'fail', 'fail', 'fail'])
})

describe('tables', () => {
  it('have the shares of joints in per cent, and say which are too much', () => {
    const share = (joint: string, of: number) => ({ joint, share: of })
    const side = { side: 'port', sideSpeed: -0.3 } as const
    const demands = [
      {
        scenario: 'x',
        sides: [{ ...side, speed: share('port.roll', 0.62), acceleration: share('port.elbow', 1.04) }],
      },
      { scenario: 'y', sides: [{ ...side, sideSpeed: 0, speed: null, acceleration: null }] },
    ]
    const text = told({ demands })
    expect(text).toMatch(/^ {2}x +port +0\.30 + 62 % roll +104 % elbow, too much$/m)
    expect(text).toMatch(/^ {2}y +port +0\.00 +parked$/m)
  })

  it('have each least distance, and say which are too near', () => {
    const least = (scenario: string, distance: number, phases: readonly number[]) => ({
      ...{ scenario, distance, phases, between: ['port.blade', 'gunwale'] as const },
    })
    // At least 0.05 m.
    const text = told({ clearance: [least('x', 0.051, [0.25]), least('y', 0.0496, [0.25, 0.5])] })
    expect(text).toMatch(/^ {2}x +0\.051 +port\.blade, gunwale +0\.250$/m)
    expect(text).toMatch(/^ {2}y +0\.050, too near +port\.blade, gunwale +0\.250, 0\.500$/m)
  })

  it('have messages of one kind in one row, with the latest of them', () => {
    const message = (of: Partial<MessageTime>) =>
      ({
        from: 'arms',
        use: 'feedback',
        joint: null,
        bytes: 8,
        period: 5e-3,
        deadline: 5e-3,
        ...of,
      }) as MessageTime
    const bus: BusTimes = {
      ...{ bus: 'port-can', load: 0.3 },
      messages: [
        message({ id: 0x18b, worst: 1e-3 }),
        message({ id: 0x18c, worst: 3e-3 }),
        message({ id: 0x18d, worst: 2e-3 }),
        message({ id: 0x70b, use: 'heartbeat', bytes: 1, worst: Number.POSITIVE_INFINITY }),
      ],
    }
    const text = told({ buses: [bus] })
    expect(text).toContain('Bus port-can, 30 % full')
    expect(text).toMatch(/^ {2}3 x feedback +arms +18b-18d +8 +5 ms +3 ms$/m)
    expect(text).toMatch(/^ {2}heartbeat +arms +70b +1 +5 ms +no bound$/m)
  })
})
