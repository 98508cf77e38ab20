/** Distances in whole runs: the demo keeps them, and something in the way of a blade stops it in time. */
import { describe, expect, it } from 'vitest'
import { ScenarioWalk } from '../../src/bench/scenario-walk.js'
import type { BenchEvent } from '../../src/files/event.js'
import { loadRig, loadScenario } from '../../src/files/load.js'
import { Bodies } from '../../src/motion/clearance/bodies.js'
import { CLOSEST } from '../../src/motion/clearance/segments.js'
import { ClearanceLook } from '../../src/preflight/clearance-look.js'
import { watchSchemas } from '../../src/watch/settings.js'
import {
  change,
  DEMO_RIG,
  eventsOf,
  FRAMES_RIG,
  play,
  played,
  SCENARIOS,
  scenarioText,
  temporaryFolder,
} from '../setup/runs.js'

const out = temporaryFolder()
/** A pole under water beside the line of the port blade, which passes it in the middle of its drive. */
const POLE = DEMO_RIG.replace(
  '    - name: person',
  `    - name: pole
      parts: [{ shape: capsule, from: ["0.1 m", "1.12 m", "-1 m"], to: ["0.1 m", "1.12 m", "-0.45 m"], radius: "20 mm" }]
    - name: person`,
)

function loaded(text: string) {
  const rig = loadRig(text, 'rig.yaml', watchSchemas)
  return { ...rig, clearance: rig.clearance! }
}

/** On the commands of a scenario, before anything runs. */
function leastOn(rig: ReturnType<typeof loaded>, name: string) {
  const look = new ClearanceLook(rig)
  new ScenarioWalk(rig).walk(loadScenario(scenarioText(name), name, rig), [look])
  return look.least!
}

describe.each([
  ['CiA 402', DEMO_RIG],
  ['frames of its own', FRAMES_RIG],
])('the demo rig with %s', (_, text) => {
  const rig = loaded(text)

  it.each(SCENARIOS)('%s keeps farther than the warning from everything', (name) => {
    const least = leastOn(rig, name)
    expect(least.distance).toBeGreaterThan(rig.clearance.warn)
    expect(rig.clearance.warn).toBe(0.1)
  })

  it('says as much of the run as was said before it', async () => {
    const { verdict } = await played(text, scenarioText('slow-ahead'))
    expect(verdict.findings.filter((f) => f.watch === 'clearance')).toEqual([])
    const { figures } = verdict.watches.find((w) => w.watch === 'clearance')!
    const distances = figures.filter((f) => f.unit === 'm' && f.name.startsWith('least distance'))
    // Itself, the hull, the gunwale, the person; and the other arm once.
    expect(distances.map((f) => f.place)).toEqual([...Array(5).fill('port'), ...Array(4).fill('starboard')])
    const least = leastOn(rig, 'slow-ahead')
    expect(Math.min(...distances.map((f) => f.value))).toBeGreaterThan(least.distance * 0.95)
    expect(Math.min(...distances.map((f) => f.value))).toBeLessThan(least.distance * 1.05)
    const phases = figures.filter((f) => f.name.endsWith('at stroke phase'))
    expect(phases.length).toBeGreaterThan(0)
    for (const { value } of phases) expect(value).toBeLessThan(1)
  })
})

describe('a pole in the way of the port blade', () => {
  it('is told before anything runs', () => {
    const rig = loaded(POLE)
    const least = leastOn(rig, 'slow-ahead')
    expect(least.distance).toBeLessThan(0.05)
    expect(least.between).toEqual(['port.blade', 'pole'])
    // 0.1 m before the middle of a drive from 0.3 m ahead to 0.3 m astern, which is phase 0.25.
    expect(least.phases).toHaveLength(1)
    expect(least.phases[0]).toBeGreaterThan(0.1)
    expect(least.phases[0]).toBeLessThan(0.25)
  })

  it('stops the arms, when the true distance says so', async () => {
    const { verdict, folder } = await play(out, POLE, scenarioText('slow-ahead'))
    expect(verdict.outcome).toBe('fail')
    expect(verdict.stop).toMatchObject({ source: 'clearance', place: 'port', category: 1 })
    const found = verdict.findings.filter((f) => f.watch === 'clearance')
    expect(found.map((f) => [f.severity, f.place, f.limit])).toEqual([
      ['warning', 'port', 0.1],
      ['failure', 'port', 0.05],
    ])
    expect(found[1]!.says).toMatch(
      /^port\.blade came too near to pole, at x 0\.\d+ m, y 1\.\d+ m, z -0\.\d+ m\.$/,
    )
    // Where the simulated arms truly were, tick by tick.
    const bodies = new Bodies(loaded(POLE))
    const pole = bodies.names.indexOf('pole')
    const blade = bodies.names.flatMap((name, i) => (name === 'port.blade' ? [i] : []))
    const closest = new Float64Array(CLOSEST)
    const ticks = eventsOf(folder).filter(
      (e): e is Extract<BenchEvent, { kind: 'tick' }> => e.kind === 'tick',
    )
    const near = ticks.find(({ witness }) => {
      if (witness === null) return false
      const q = Float64Array.from(witness)
      bodies.place(0, q, q, 0)
      const distances = blade.map((b) => {
        bodies.measure(b, pole, closest)
        return closest[0]!
      })
      return Math.min(...distances) < 0.05
    })!
    const PERIOD = 5e6
    expect(found[1]!.t - near.t).toBeGreaterThan(-PERIOD)
    expect(found[1]!.t - near.t).toBeLessThan(2 * PERIOD)
  })

  it('is what a scenario may expect', async () => {
    const expects = change(
      scenarioText('slow-ahead'),
      /^expect:[\s\S]*$/m,
      'expect: { outcome: stop, by: clearance, after: "2 s", within: "15 s", still: "500 ms", no-motion: true }\n',
    )
    const { verdict } = await play(out, POLE, expects)
    expect(verdict.sentence).toMatch(/^Pass/)
  })

  it('is not seen by a rig that does not say how thick its arms are, and the verdict says so', async () => {
    const blind = change(DEMO_RIG, /\nclearance:[\s\S]*?\n\n/, '\n')
    const { verdict } = await play(out, blind, scenarioText('slow-ahead'))
    expect(verdict.outcome).toBe('pass')
    expect(verdict.cautions.filter((c) => c.includes('clearance'))).toHaveLength(1)
    const { figures } = verdict.watches.find((w) => w.watch === 'clearance')!
    expect(figures).toEqual([{ place: '', name: 'pairs watched', value: 0, unit: 'count', limit: null }])
    const { verdict: seeing } = await played(DEMO_RIG, scenarioText('slow-ahead'))
    expect(seeing.cautions.filter((c) => c.includes('clearance'))).toEqual([])
  })
})
