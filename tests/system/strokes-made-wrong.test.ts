/**
 * Whole runs on simulated arms, with reference drivers whose stroke is not the rig's: the watch that should catches it, stops what is a
 * danger, and each verdict fails for this and nothing else.
 */
import { describe, expect, it } from 'vitest'
import { assemble } from '../../src/bench/assemble.js'
import { simulatedArms } from '../../src/bench/simulated.js'
import { nanos, VirtualTime } from '../../src/clock.js'
import type { Driver } from '../../src/driver/contract.js'
import { ReferenceDriver } from '../../src/driver/reference.js'
import { loadRig, loadScenario } from '../../src/files/load.js'
import type { Rig } from '../../src/files/rig.js'
import type { Verdict } from '../../src/verdict/verdict.js'
import { type WatchSettings, watchSchemas } from '../../src/watch/settings.js'
import { change, DEMO_RIG, scenarioText } from '../setup/runs.js'

const SCENARIO = change(
  change(
    change(scenarioText('slow-ahead'), 'duration: "25 s"', 'duration: "15 s"'),
    'at: "20 s"',
    'at: "14 s"',
  ),
  /least: 4/g,
  'least: 1',
)
const rigOf = (text = DEMO_RIG) => loadRig(text, 'rig.yaml', watchSchemas)

function played(rig: Rig<WatchSettings>, driver: Driver): Verdict {
  const clock = new VirtualTime()
  const scenario = loadScenario(SCENARIO, 'scenario.yaml', rig)
  const recording = { frame: () => {}, event: () => {}, flush: () => {} }
  const arms = simulatedArms(rig, clock, 1, scenario.plant)
  const { bench, judge } = assemble({ rig, scenario, seed: 1, clock, ...arms, driver, recording })
  for (let k = 0; !bench.ended; k++) {
    clock.runUntil(nanos(k * rig.control.period))
    bench.tick()
  }
  return judge.close().verdict
}
const stroking = (stroke: Partial<Rig['stroke']>): Verdict => {
  const rig = rigOf()
  return played(rig, new ReferenceDriver({ ...rig, stroke: { ...rig.stroke, ...stroke } }))
}
const failures = ({ findings }: Verdict) => [
  ...new Set(findings.filter((f) => f.severity === 'failure').map((f) => `${f.watch}: ${f.quantity}`)),
]

describe('a stroke made wrong on purpose', () => {
  it('30 % too deep is stopped at its first catch', () => {
    const verdict = stroking({ immersion: 0.143 })
    expect(verdict.outcome).toBe('fail')
    expect(verdict.stop).toMatchObject({ source: 'stroke', category: 1 })
    expect(failures(verdict)).toEqual(['stroke: immersion'])
    // The first drive begins at half a recovery, about a second, after the command at 1 s.
    expect((verdict.stop!.t - verdict.zero!) / 1e9).toBeLessThan(4)
  })

  it('not lifted out of the water on its way back fails', () => {
    const verdict = stroking({ clearance: -0.03 })
    expect(verdict.outcome).toBe('fail')
    expect(failures(verdict)).toContain('stroke: lowest edge above the water on the recovery')
  })

  it('10 % too short fails by its length', () => {
    const verdict = stroking({ length: 0.54 })
    expect(verdict.outcome).toBe('fail')
    expect(failures(verdict)).toEqual(['stroke: way of the stroke', 'stroke: cadence of whole strokes'])
  })

  it('with coupled sides, of which one falls back for two seconds, fails by its phase', () => {
    const rig = rigOf(change(DEMO_RIG, 'sides: free', 'sides: together'))
    const [own, slack] = [new ReferenceDriver(rig), new ReferenceDriver(rig)]
    const other = new Float64Array(rig.joints.length)
    let under = 0
    const verdict = played(rig, {
      parkPose: own.parkPose,
      get parked() {
        return own.parked && slack.parked
      },
      begin: () => {
        own.begin()
        slack.begin()
      },
      step: (command, out) => {
        own.step(command, out)
        if (command.surge > 0) under += rig.control.period
        const surge = under > 8.5 && under < 10.5 ? command.surge - 0.1 : command.surge
        slack.step({ ...command, surge }, other)
        for (const j of rig.arms[1]!.joints) out[j] = other[j]!
      },
    })
    expect(verdict.outcome).toBe('fail')
    expect(failures(verdict)).toContain('sides: phase between the sides')
    const { says } = verdict.findings.find((f) => f.watch === 'sides')!
    // 0.1 m/s for about two seconds are 0.2 m of 1.27 m a stroke.
    expect(says).toMatch(
      /^The sides had been in step, and then port was ahead of its place by 1\d(\.\d)? % of a stroke\.$/,
    )
  })
})
