/** The stops that are planned come in the stroke where the plan says, at the speed that it says. */
import { describe, expect, it } from 'vitest'
import { planStops } from '../../../src/bench/stop-plan.js'
import { ReferenceDriver } from '../../../src/driver/reference.js'
import { loadRig, loadScenario } from '../../../src/files/load.js'
import { watchSchemas } from '../../../src/watch/settings.js'
import { Workbench } from '../../setup/bench.js'
import { change, DEMO_RIG } from '../../setup/runs.js'

const rig = loadRig(DEMO_RIG, 'rig.yaml', watchSchemas)

describe('the plan', () => {
  const plan = planStops(rig, 0.5, 4)

  it('has as many places at each of 33, 66 and 100 % of speed, spread evenly over one stroke', () => {
    expect(plan.map((p) => p.share)).toEqual([0.33, 0.33, 0.33, 0.33, 0.66, 0.66, 0.66, 0.66, 1, 1, 1, 1])
    expect(plan[11]!.speed).toBe(0.5)
    for (const share of [0.33, 0.66, 1]) {
      const phases = plan.filter((p) => p.share === share).map((p) => p.phase)
      phases.forEach((phase, i) => {
        const way = (phase - phases[0]! + 1) % 1
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
    expect(plan[0]!.text).toContain('surge: "33 %"')
    const silent = loadRig(change(DEMO_RIG, / {2}fastest: .*\n/, ''), 'rig.yaml', watchSchemas)
    expect(planStops(silent, 0.5, 2)[0]!.text).toContain('surge: "0.165 m/s"')
  })

  it.each([1, 6, 11])('stop %i comes in the bench exactly at the phase that the plan names', (i) => {
    const { text, phase, at } = planStops(rig, rig.stroke.fastest!, 4)[i]!
    const table = new Workbench()
    const driver = new ReferenceDriver(table.rig)
    const { bench, events } = table.bench(text, () => {}, driver)
    table.run(bench, () => bench.stage === 'stopping')
    const zero = events.find((e) => e.kind === 'stage' && e.stage === 'play')!.t
    expect((events.find((e) => e.kind === 'stop')!.t - zero) / 1e9).toBeCloseTo(at, 9)
    expect(driver.sides.port.phase).toBeCloseTo(phase, 9)
  })

  it('ends too where the speed cap slows the strokes', () => {
    const capped = loadRig(
      change(DEMO_RIG, /speed-cap: "100 %"/, 'speed-cap: "30 %"'),
      'rig.yaml',
      watchSchemas,
    )
    expect(planStops(capped, 0.5, 3)).toHaveLength(9)
  })
})
