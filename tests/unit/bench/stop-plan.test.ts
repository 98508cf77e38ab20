/** The stops that are planned come in the stroke where the plan says, at the speed that it says. */
import { describe, expect, it } from 'vitest'
import { ALL_MOTIONS, commandOf } from '../../../src/bench/stop-motions.js'
import { planStops } from '../../../src/bench/stop-plan.js'
import { ReferenceDriver } from '../../../src/driver/reference.js'
import { loadRig, loadScenario } from '../../../src/files/load.js'
import { watchSchemas } from '../../../src/watch/settings.js'
import { Workbench } from '../../setup/bench.js'
import { change, DEMO_RIG } from '../../setup/runs.js'

const rig = loadRig(DEMO_RIG, 'rig.yaml', watchSchemas)

/** What each side does, port first: 1 ahead, -1 astern. A turn to port is port astern and starboard ahead. */
const SIDES = {
  ahead: [1, 1],
  astern: [-1, -1],
  'pivot-to-port': [-1, 1],
  'pivot-to-starboard': [1, -1],
} as const

describe.each(ALL_MOTIONS)('the plan %s', (motion) => {
  const plan = planStops(rig, motion, 0.5, 4)

  it('has as many places at each of 33, 66 and 100 % of speed, spread evenly over one stroke', () => {
    expect(plan.map((p) => p.share)).toEqual([0.33, 0.33, 0.33, 0.33, 0.66, 0.66, 0.66, 0.66, 1, 1, 1, 1])
    expect(plan[11]!.speed).toBe(0.5)
    for (const share of [0.33, 0.66, 1]) {
      const phases = plan.filter((p) => p.share === share).map((p) => p.phase)
      phases.forEach((phase, i) => {
        const way = (SIDES[motion][0] * (phase - phases[0]!) + 1) % 1
        expect(way).toBeGreaterThanOrEqual(i / 4 - 1e-9)
        // A tick or two of way at 5 ms.
        expect(way).toBeLessThan(i / 4 + 0.02)
      })
    }
  })

  it('each is a scenario of its own that the rig accepts', () => {
    for (const { text, at } of plan) {
      const scenario = loadScenario(text, 'plan.yaml', rig)
      expect(scenario.operator).toEqual([{ at: expect.closeTo(at, 9), action: 'stop' }])
    }
    expect(new Set(plan.map((p) => loadScenario(p.text, 'plan.yaml', rig).name)).size).toBe(12)
  })

  it.each([1, 6, 11])(
    'stop %i comes in the bench exactly at the phase, and in the motion, that the plan names',
    (i) => {
      const { text, phase, at, speed } = planStops(rig, motion, rig.stroke.fastest!, 4)[i]!
      const table = new Workbench()
      const driver = new ReferenceDriver(table.rig)
      const { bench, events } = table.bench(text, () => {}, driver)
      table.run(bench, () => bench.stage === 'stopping')
      const zero = events.find((e) => e.kind === 'stage' && e.stage === 'play')!.t
      expect((events.find((e) => e.kind === 'stop')!.t - zero) / 1e9).toBeCloseTo(at, 9)
      const { port, starboard } = driver.sides
      expect(port.phase).toBeCloseTo(phase, 9)
      const whole = speed * (1 + rig.driver.slip)
      expect([port.fullSpeed / whole, starboard.fullSpeed / whole]).toEqual([
        expect.closeTo(SIDES[motion][0], 6),
        expect.closeTo(SIDES[motion][1], 6),
      ])
    },
  )

  it('ends too where the speed cap slows the strokes', () => {
    const capped = loadRig(
      change(DEMO_RIG, /speed-cap: "100 %"/, 'speed-cap: "30 %"'),
      'rig.yaml',
      watchSchemas,
    )
    expect(planStops(capped, motion, 0.5, 3)).toHaveLength(9)
  })

  it.each(['together', 'alternating'] as const)('has its places too where the sides go %s', (sides) => {
    const coupled = { ...rig, stroke: { ...rig.stroke, sides } }
    const phases = planStops(coupled, motion, 0.5, 3)
      .filter((p) => p.share === 1)
      .map((p) => p.phase)
    expect(phases).toHaveLength(3)
    phases.forEach((phase, i) => {
      const way = (SIDES[motion][0] * (phase - phases[0]!) + 1) % 1
      expect(way).toBeCloseTo(i / 3, 1)
    })
  })
})

describe('a speed in the plan', () => {
  it('is a share of the greatest where the rig states it, else a speed', () => {
    const silent = loadRig(change(DEMO_RIG, / {2}fastest: .*\n/, ''), 'rig.yaml', watchSchemas)
    const first = (of: typeof rig, motion: 'ahead' | 'astern'): string =>
      planStops(of, motion, 0.5, 2)[0]!.text
    expect(first(rig, 'ahead')).toContain('surge: "33 %"')
    expect(first(rig, 'astern')).toContain('surge: "-33 %"')
    expect(first(silent, 'ahead')).toContain('surge: "0.165 m/s"')
    expect(first(silent, 'astern')).toContain('surge: "-0.165 m/s"')
  })

  it('is refused in a pivot that no scenario may command, and says what to do', () => {
    const narrow = { ...rig, craft: { ...rig.craft, track: 0.3 } }
    // 2 x 0.5 m/s over 0.3 m is 3.33 rad/s, or 191 deg/s.
    expect(() => planStops(narrow, 'pivot-to-port', 0.5, 2)).toThrow(
      /191 deg\/s.*180 deg\/s.*--motion astern/,
    )
    expect(commandOf(narrow, 'astern', 0.5)).toEqual({ surge: -0.5, yaw: 0 })
  })
})
