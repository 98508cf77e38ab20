/** The watch of the two sides on the reference driver, and on drivers whose sides are swapped, out of step or drift. */
import { describe, expect, it } from 'vitest'
import { ReferenceDriver } from '../../../src/driver/reference.js'
import type { Rig } from '../../../src/files/rig.js'
import { change } from '../../setup/runs.js'
import { type Drive, driven, type Order } from './driven.js'
import { told } from './transcript.js'

const SERVO = { frequency: 12, damping: 0.8, feedforward: 0.5 }
const ahead: readonly Order[] = [{ at: 0.5, surge: 0.3 }]
const play = (more: Partial<Drive>) => driven('sides', { orders: ahead, lasts: 25, servo: SERVO, ...more })
const coupled = (mode: string) => (text: string) => change(text, 'sides: free', `sides: ${mode}`)
const PORT = [0, 1, 2, 3, 4, 5]

/** Two drivers, one a side: the port arm follows the first, the starboard arm the second. */
const apart = (port: (rig: Rig) => Stepped, starboard: (rig: Rig) => Stepped) => (rig: Rig) => {
  const [a, b] = [port(rig), starboard(rig)]
  const other = new Float64Array(rig.joints.length)
  return {
    parkPose: a.driver.parkPose,
    parked: false,
    begin: () => {
      a.driver.begin()
      b.driver.begin()
    },
    step: (command: { surge: number; yaw: number }, out: Float64Array) => {
      b.step(command, other)
      a.step(command, out)
      for (let j = PORT.length; j < other.length; j++) out[j] = other[j]!
    },
  }
}
interface Stepped {
  readonly driver: ReferenceDriver
  readonly step: ReferenceDriver['step']
}
/** The reference driver under a command that is altered on its way. */
const under =
  (
    alter: (command: { surge: number; yaw: number }, k: number) => { surge: number; yaw: number },
    stroke: Partial<Rig['stroke']> = {},
  ) =>
  (rig: Rig): Stepped => {
    const driver = new ReferenceDriver({ ...rig, stroke: { ...rig.stroke, ...stroke } })
    let k = 0
    return { driver, step: (command, out) => driver.step(alter(command, k++), out) }
  }
const asTold = under((command) => command)

describe('sides watch, on sides as the rig has them', () => {
  const orders: [string, readonly Order[]][] = [
    ['ahead', ahead],
    ['astern', [{ at: 0.5, surge: -0.25 }]],
    ['on the spot', [{ at: 0.5, surge: 0, yaw: 0.24 }]],
    ['in an arc', [{ at: 0.5, surge: 0.24, yaw: 0.05 }]],
    ['on one side', [{ at: 0.5, surge: 0.15, yaw: 0.15 }]],
    [
      'through zero',
      [
        { at: 0.5, surge: 0.25, yaw: 0.02 },
        { at: 9, surge: -0.25, yaw: 0.02 },
      ],
    ],
    [
      'from one side to the other',
      [
        { at: 0.5, surge: 0.1, yaw: 0.2 },
        { at: 9.3, surge: 0.1, yaw: -0.2 },
        { at: 16.1, surge: 0 },
      ],
    ],
  ]
  it.each(orders)('%s it is quiet, whether they are coupled or not', (_, given) => {
    for (const mode of ['free', 'together', 'alternating']) {
      const { findings } = play({ orders: given, change: mode === 'free' ? (text) => text : coupled(mode) })
      expect([mode, told(findings)]).toEqual([mode, []])
    }
  })

  it.each([9, 9.4, 9.8, 10.2, 10.6])(
    'turned round on the spot at %f s, with both blades in the water or neither, nothing of before is held against what is asked now',
    (at) => {
      const orders = [
        { at: 0.5, surge: 0, yaw: 0.24 },
        { at, surge: 0, yaw: -0.24 },
      ]
      expect(told(play({ orders, lasts: at + 3 }).findings)).toEqual([])
    },
  )

  it('alternating sides come into step, and stay', () => {
    const { findings, figure } = play({ change: coupled('alternating'), lasts: 60 })
    expect(findings).toEqual([])
    expect(figure('', 'passes of the middle compared, in step')).toBeGreaterThan(8)
    expect(Math.abs(figure('', 'port ahead of its place beside starboard, mean'))).toBeLessThan(0.03)
  })

  it('free sides in an arc drift as the command has it, and that is no drift', () => {
    const { figure } = play({ orders: [{ at: 0.5, surge: 0.24, yaw: 0.05 }], lasts: 40 })
    expect(
      Math.abs(figure('', 'strokes a minute that port gains on starboard, beyond the command')),
    ).toBeLessThan(0.02)
  })
})

describe('sides watch, on sides that are not as the rig has them', () => {
  it.each<[string, Order, Partial<Order>]>([
    ['on the spot', { at: 0.5, surge: 0, yaw: 0.24 }, { yaw: -0.24 }],
    ['on one side', { at: 0.5, surge: 0.15, yaw: 0.15 }, { yaw: -0.15 }],
  ])('finds swapped sides %s within 2 cm in the water, and stops', (_, order, as) => {
    const { findings } = play({
      orders: [order],
      driver: apart(
        under((c) => ({ ...c, yaw: c.yaw === 0 ? 0 : as.yaw! })),
        under((c) => ({ ...c, yaw: c.yaw === 0 ? 0 : as.yaw! })),
      ),
    })
    expect(told(findings)).toEqual(['failure  sides swapped'])
    expect(findings[0]!.value).toBeGreaterThan(0.02)
    expect(findings[0]!.value).toBeLessThan(0.025)
    expect(findings[0]!.stop).toBe(1)
  })

  it('finds swapped sides in an arc by their speeds', () => {
    const mirrored = under((c) => ({ ...c, yaw: -c.yaw }))
    const { findings } = play({
      orders: [{ at: 0.5, surge: 0.24, yaw: 0.05 }],
      driver: apart(mirrored, mirrored),
    })
    expect(told(findings)).toContain('failure  sides swapped')
    expect(findings.find((f) => f.quantity === 'sides swapped')!.value).toBeCloseTo(0.1, 2)
  })

  it('does not take one side that is slow for swapped sides', () => {
    const slow = under((c) => ({ surge: c.surge * 0.8, yaw: 0 }))
    const { findings } = play({ driver: apart(slow, asTold) })
    expect(told(findings)).toEqual(['failure  drift between the sides'])
  })

  it('finds a free side that strokes 3 % faster, and says by how much a minute', () => {
    const fast = under((c) => ({ surge: c.surge * 1.05, yaw: 0 }))
    const { findings, figure } = play({ driver: apart(fast, asTold) })
    expect(told(findings)).toEqual(['failure  drift between the sides'])
    expect(findings[0]!.says).toMatch(/^Port gained /)
    const drift = figure('', 'strokes a minute that port gains on starboard, beyond the command')
    expect(drift).toBeCloseTo(findings[0]!.value, 1)
    expect(drift).toBeGreaterThan(0.4)
  })

  it('finds coupled sides that alternate where they should go together', () => {
    const mode = (sides: Rig['stroke']['sides']) => under((c) => c, { sides })
    // A driver that starts one side half a stroke later.
    const late = under((c, k) => (k * 0.005 < 2.5 ? { surge: 0, yaw: 0 } : c))
    const { findings } = play({ change: coupled('together'), driver: apart(late, mode('free')), lasts: 45 })
    expect(told(findings)).toEqual(['failure  phase between the sides'])
    expect(findings[0]!.says).toMatch(/^The sides did not come into step: (port|starboard) was ahead/)
    // Of its start: 2 s of strokes that take 3.9 s.
    expect(findings[0]!.value).toBeCloseTo(2 / 3.88, 1)
    // So far apart they may go either way round, and grow farther apart at first: they have the eight strokes that the rig gives them.
    expect(findings[0]!.t / 1e9).toBeGreaterThan(8 * 3.88)
  })

  it('finds a phase that slips when it begins anew, at once', () => {
    // Once in step, port loses 0.3 s at 12 s.
    let stands = 0
    const slips = (rig: Rig): Stepped => {
      const driver = new ReferenceDriver(rig)
      const held = new Float64Array(rig.joints.length)
      let k = 0
      return {
        driver,
        step: (command, out) => {
          if (k++ * 0.005 > 12 && stands++ < 60) out.set(held)
          else driver.step(command, held)
          out.set(held)
        },
      }
    }
    const { findings } = play({ change: coupled('together'), driver: apart(slips, asTold), lasts: 20 })
    expect(told(findings)).toEqual(['failure  phase between the sides'])
    expect(findings[0]!.says).toMatch(/^The sides had been in step/)
    expect(findings[0]!.value).toBeCloseTo(0.3 / 3.88, 2)
    expect(findings[0]!.t / 1e9).toBeLessThan(14.5)
  })

  it('leaves alone what the rig permits, and warns where it wants that', () => {
    const fast = under((c) => ({ surge: c.surge * 1.05, yaw: 0 }))
    const watched = (settings: string) => (text: string) =>
      change(text, 'watch: {}', `watch: { sides: { ${settings} } }`)
    const warned = play({ driver: apart(fast, asTold), change: watched('severity: warning') })
    expect(told(warned.findings)).toEqual(['warning  drift between the sides'])
    expect(play({ driver: apart(fast, asTold), change: watched('drift: "10 %"') }).findings).toEqual([])
  })
})

describe('sides watch, on coupled sides that do not come into step', () => {
  const behind = (share: number) => {
    const periods = Math.round((share * 3.9) / 0.005)
    return play({
      change: coupled('together'),
      driver: apart(
        under((command, k) => (k < 100 + periods ? { surge: 0, yaw: 0 } : command), { sides: 'free' }),
        under((command) => command, { sides: 'free' }),
      ),
    })
  }

  it('tells a side that stays a fifth of a stroke behind once a whole stroke has been compared', () => {
    const { findings } = behind(0.2)
    expect(told(findings)).toEqual(['failure  phase between the sides'])
    expect(findings[0]!.value).toBeCloseTo(0.2, 1)
    // Two strokes of 3.9 s, and the ramp, instead of the eight in which sides must have come into step.
    expect(findings[0]!.t / 1e9).toBeLessThan(0.5 + 2 * 3.9 + 1.5)
    expect(findings[0]!.says).toContain('did not come into step')
  })

  it('bears sides that begin nearly opposite and go the long way round', () => {
    // Port astern, starboard ahead, then both astern: half a stroke out of step, and at first nearly a stable place.
    const { findings } = play({
      change: coupled('together'),
      orders: [
        { at: 0.7, surge: 0.032, yaw: 0.304 },
        { at: 8.12, surge: -0.3105, yaw: -0.0965 },
      ],
      lasts: 30,
    })
    expect(told(findings)).toEqual([])
  })

  it('bears one that is within the limit', () => {
    expect(behind(0.04).findings).toEqual([])
  })

  it('tells sides that drift apart so fast that they are never in step', () => {
    const { findings } = play({
      change: coupled('together'),
      driver: apart(
        under(({ surge, yaw }) => ({ surge: 1.1 * surge, yaw }), { sides: 'free' }),
        under((c) => c, { sides: 'free' }),
      ),
    })
    expect(told(findings)).toEqual(['failure  phase between the sides'])
  })
})
