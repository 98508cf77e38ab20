/** The stroke watch on the reference driver, as it is and with strokes that are not the rig's. */
import { describe, expect, it } from 'vitest'
import type { Rig } from '../../../src/files/rig.js'
import { parkTimes } from '../../../src/motion/blade.js'
import { change } from '../../setup/runs.js'
import { DEMO } from '../driver/play.js'
import { type Drive, driven, type Order, strokingOtherwise } from './driven.js'
import { otherwise } from './otherwise.js'
import { told } from './transcript.js'

const SERVO = { frequency: 12, damping: 0.8, feedforward: 0.5 }
const ahead: readonly Order[] = [
  { at: 0.5, surge: 0.3 },
  { at: 16, surge: 0 },
]
const play = (more: Partial<Drive>) => driven('stroke', { orders: ahead, lasts: 20, servo: SERVO, ...more })
const both = (finding: string) => [`failure port ${finding}`, `failure starboard ${finding}`]

describe('stroke watch, on strokes as the rig has them', () => {
  it.each<[string, readonly Order[]]>([
    ['ahead', ahead],
    ['astern', [{ at: 0.5, surge: -0.25 }]],
    ['on the spot', [{ at: 0.5, surge: 0, yaw: 0.24 }]],
    ['in an arc', [{ at: 0.5, surge: 0.24, yaw: 0.05 }]],
    [
      'ahead, then astern',
      [
        { at: 0.5, surge: 0.25 },
        { at: 8.3, surge: -0.25 },
      ],
    ],
    [
      'with a pause in mid-drive',
      [
        { at: 0.5, surge: 0.3 },
        { at: 6, surge: 0 },
        { at: 11, surge: 0.3 },
      ],
    ],
  ])('%s it is quiet', (_, orders) => {
    for (const mode of ['free', 'together', 'alternating']) {
      const { findings, figure } = play({
        orders,
        lasts: 30,
        change: (text) => (mode === 'free' ? text : change(text, 'sides: free', `sides: ${mode}`)),
      })
      expect(findings).toEqual([])
      expect(figure('starboard', 'strokes held against the rig')).toBeGreaterThan(0)
    }
  })

  it.each([7.8, 7.9, 8, 8.1])(
    'is quiet while coupled sides shorten a stroke that is on its way back, at %f s',
    (from) => {
      // Two blades against each other, then one much faster than the other, in a ramp that begins on the recovery of starboard.
      const ramp = Array.from({ length: 28 }, (_, i) => {
        const share = i / 27
        return { at: from + 0.02 * i, surge: 0.013 - 0.1175 * share, yaw: 0.309 + 0.0095 * share }
      })
      const { findings } = play({
        change: (text) => change(text, 'sides: free', 'sides: together'),
        orders: [{ at: 0.63, surge: 0.013, yaw: 0.309 }, ...ramp],
        lasts: 12,
      })
      expect(told(findings)).toEqual([])
    },
  )

  it('is quiet under a speed cap, which slows strokes down', () => {
    const { findings, figure } = play({
      change: (text) => change(text, 'speed-cap: "100 %"', 'speed-cap: "40 %"'),
      lasts: 25,
      orders: [{ at: 0.5, surge: 0.3 }],
    })
    expect(findings).toEqual([])
    expect(figure('port', 'cadence of whole strokes, mean')).toBeLessThan(0.25)
  })

  it('asks for the strokes of a blade that slips, where the rig says by how much', () => {
    const slips = (text: string) => change(text, 'slip: "0 %"', 'slip: "25 %"')
    const { findings, figure } = play({ orders: [{ at: 0.5, surge: 0.24 }], lasts: 16, change: slips })
    expect(findings).toEqual([])
    // As fast as without slip at 0.3 m/s.
    expect(figure('port', 'cadence of whole strokes, mean')).toBeCloseTo(0.258, 3)
  })

  it.each([
    { frequency: 9.6, damping: 0.64, feedforward: 0.4 },
    { frequency: 14.4, damping: 0.96, feedforward: 0.6 },
  ])('is quiet with servos 20 %% off', (servo) => {
    expect(play({ servo }).findings).toEqual([])
  })

  it('measures them: even part at the side speed, immersion, clearance and angle as the rig has them', () => {
    const { figure } = play({})
    expect(figure('port', 'strokes held against the rig')).toBe(2)
    expect(figure('port', 'immersion, deepest')).toBeCloseTo(0.11, 4)
    // Far less than a sample in a stroke of 3.9 s.
    expect(figure('port', 'cadence of whole strokes, off by at most')).toBeLessThan(2e-4)
    expect(figure('port', 'time in the water to time out of it, off by at most')).toBeLessThan(5e-4)
    expect(figure('port', 'way of the stroke, off by at most')).toBeLessThan(1e-3)
    expect(figure('port', 'lowest edge above the water on the recovery, least')).toBeCloseTo(0.05, 3)
    expect(figure('port', 'blade angle at the catch, mean')).toBeCloseTo(0, 4)
    expect(figure('starboard', 'blade angle on the recovery, mean')).toBeCloseTo((50 * Math.PI) / 180, 4)
  })
})

describe('stroke watch, on strokes that are not the rig’s', () => {
  const otherwise = (stroke: Parameters<typeof strokingOtherwise>[0]) =>
    play({ driver: strokingOtherwise(stroke) })

  it('stops a blade that goes 30 % too deep, as soon as it is too deep', () => {
    const { findings } = otherwise({ immersion: 0.143 })
    expect(told(findings).slice(0, 2)).toEqual(both('immersion'))
    expect(findings[0]).toMatchObject({ stop: 1, limit: expect.closeTo(0.132, 9), unit: 'm' })
    expect(findings[0]!.value - 0.132).toBeLessThan(0.01)
    // From the middle of the recovery to the first catch.
    expect(findings[0]!.t / 1e9).toBeLessThan(4)
  })

  it('finds one that comes back in the water, on its first recovery', () => {
    const { findings } = otherwise({ clearance: -0.03 })
    expect(told(findings).slice(0, 2).sort()).toEqual(both('lowest edge above the water on the recovery'))
    expect(findings[0]!.value).toBeCloseTo(-0.03, 2)
    expect(findings[0]!.t / 1e9).toBeLessThan(7)
  })

  it.each([
    ['too shallow', { immersion: 0.077 }, ['immersion at the catch', 'immersion at the exit']],
    ['too low over the water', { clearance: 0.02 }, ['lowest edge above the water on the recovery']],
    ['10 % too short', { length: 0.54 }, ['way of the stroke', 'cadence of whole strokes']],
    ['10 % too long', { length: 0.66 }, ['way of the stroke', 'cadence of whole strokes']],
    ['turned too little', { feather: 0.7 }, ['blade angle on the recovery']],
    ['turned the other way', { feather: -0.87 }, ['blade angle on the recovery']],
    [
      'with a slow recovery',
      { recovery: 0.1 },
      ['cadence of whole strokes', 'time in the water to time out of it'],
    ],
  ] as const)('finds one that is %s', (_, stroke, quantities) => {
    const { findings } = otherwise(stroke)
    expect(told(findings).sort()).toEqual(quantities.flatMap(both).sort())
    for (const f of findings) expect(f.stop).toBe(null)
  })

  it('finds a blade that is 10 deg off square at catch and exit', () => {
    // Joint 5 turns the port blade about its shaft.
    const { findings } = play({ feedback: (j, q) => (j === 5 ? q + 0.17 : q) })
    expect(told(findings).sort()).toEqual(
      ['at the catch', 'at the exit', 'on the recovery'].map((at) => `failure port blade angle ${at}`).sort(),
    )
    expect(findings[0]!.value).toBeCloseTo(0.17, 3)
  })

  it('finds a side that does not stroke, after one and a half strokes', () => {
    const still = driven('stroke', { orders: ahead, lasts: 14, feedback: (j, q) => (j < 6 ? REST[j]! : q) })
    expect(told(still.findings)).toEqual(['failure port time without a stroke'])
    const { reference } = { reference: 1 / 0.258 }
    expect(still.findings[0]!.limit).toBeCloseTo(1.5 * reference, 2)
  })

  it('says so as a warning where the rig wants it', () => {
    const { findings } = play({
      driver: strokingOtherwise({ length: 0.54 }),
      change: (text) => change(text, 'watch: {}', 'watch: { stroke: { severity: warning, length: "8 %" } }'),
    })
    expect(told(findings)).toContain('warning port way of the stroke')
  })

  it('leaves alone what the rig permits', () => {
    const { findings } = play({
      driver: strokingOtherwise({ length: 0.54, immersion: 0.14, clearance: 0.02, feather: 0.7 }),
      change: (text) =>
        change(
          text,
          'watch: {}',
          'watch: { stroke: { length: "12 %", cadence: "12 %", ratio: "12 %", depth: "35 %", clearance: "30 %", angle: "12 deg" } }',
        ),
    })
    expect(findings).toEqual([])
  })
})

describe('stroke watch, from the first stroke on', () => {
  /** s of a stroke at 0.3 m/s, as the tests above have it. */
  const TIME = 3.9

  it('holds the first stroke from the park place against the rig, ramp or not: its shape, not its time', () => {
    const { findings, figure } = play({ driver: strokingOtherwise({ length: 0.54 }), lasts: 6 })
    expect(told(findings)).toEqual(both('way of the stroke'))
    // A ramp of 0.95 s to 0.3 m/s costs half of itself.
    expect(findings[0]!.t / 1e9).toBeLessThan(0.5 + TIME + 0.95)
    expect(figure('port', 'strokes held against the rig')).toBe(0)
  })

  it('sees how a parked blade is turned as soon as it sets off', () => {
    const { findings } = play({ driver: strokingOtherwise({ feather: -0.87 }), lasts: 2 })
    expect(told(findings)).toEqual(both('blade angle on the recovery'))
    expect(findings[0]!.t / 1e9).toBeLessThan(0.52)
  })

  it('asks nothing of a blade that is parked higher than the recovery, and turned otherwise', () => {
    // A driver may park where it likes: only joints that lift and turn are elsewhere, until it sets off.
    const { findings } = play({
      lasts: 0.6,
      driver: otherwise({
        hands: (out) => {
          for (const j of [1, 7]) out[j] = out[j]! - 0.1
          for (const j of [5, 11]) out[j] = out[j]! + 0.5
        },
      }),
    })
    expect(findings).toEqual([])
  })

  it('a command in the midst of parking begins no stroke from rest', () => {
    for (const at of [8.2, 9, 9.5, 10, 10.5, 11]) {
      const orders = [
        { at: 0.5, surge: 0.3 },
        { at: 6, surge: 0 },
        { at, surge: 0.3 },
      ]
      expect([at, told(play({ orders, lasts: 18 }).findings)]).toEqual([at, []])
    }
  })
})

describe('stroke watch, blades at rest', () => {
  const never = (rig: Rig) => ({ ...rig, stroke: { ...rig.stroke, dwell: 100 } })
  const LIFT = parkTimes(
    DEMO.stroke,
    DEMO.arms.map((arm) => arm.paddle),
  )
  /** Commands cease at such a time that the blade rests there. */
  const rest = (at: number, driver?: Drive['driver']) =>
    play({
      orders: [
        { at: 0.5, surge: 0.3 },
        { at, surge: 0 },
      ],
      lasts: at + 8,
      ...(driver ? { driver } : {}),
    })
  // 0.95 s of ramp, 1 s of dwell, and a tenth of a second for what follows late.
  const due = (at: number): number => at + 0.95 + 1 + 0.1

  it.each([1.5, 2.5, 3.5, 4.1, 4.3, 4.5, 4.7, 5.5])('is quiet where they are parked, from %f s on', (at) => {
    expect(rest(at).findings).toEqual([])
  })

  it.each([9.6, 9.9, 10.2, 10.5])(
    'gives a shortened stroke of coupled sides the time that its phase takes to stop: %f s',
    (at) => {
      const { findings } = play({
        change: (text) => change(text, 'sides: free', 'sides: together'),
        orders: [
          { at: 1, surge: 0.102, yaw: -0.413 },
          { at, surge: 0.1085, yaw: -0.1085 },
        ],
        lasts: 17,
      })
      expect(told(findings)).toEqual([])
    },
  )

  it('finds one that stays in the water, once it could have been lifted', () => {
    const { findings } = rest(2.5, otherwise({ rig: never }))
    expect(told(findings)).toEqual(both('lowest edge above the water at rest'))
    expect(findings[0]!.t / 1e9).toBeCloseTo(due(2.5) + LIFT.lift, 1)
    expect(findings[0]!.value).toBeLessThan(0)
  })

  it('finds one that stays on its way back, once it could have been carried over a third of it', () => {
    const found = [3.6, 3.8, 4, 4.2, 4.4]
      .map((at) => ({ at, ...rest(at, otherwise({ rig: never })) }))
      .filter(({ findings }) => findings.some((f) => f.quantity === 'way from the park place at rest'))
    expect(found.length).toBeGreaterThan(0)
    for (const { at, findings } of found) {
      const [first] = findings.filter((f) => f.quantity === 'way from the park place at rest')
      expect(first!.value).toBeGreaterThan(0.03)
      expect(first!.t / 1e9 - due(at)).toBeGreaterThan(LIFT.lift + 0.4 * LIFT.carry - 0.05)
      expect(first!.t / 1e9 - due(at)).toBeLessThan(LIFT.lift + LIFT.carry)
    }
  })
})

/** rad, about the port arm's park pose: where it stands does not matter as long as it stands. */
const REST = [0.1, 0, 1.6, 0, 1.2, 0.7]
