/** Every demo scenario passes on the demo rig, and leaves a whole recording. Adding a scenario is adding a file. */
import { readdirSync } from 'node:fs'
import { describe, expect, it } from 'vitest'
import { DEMO_RIG, play, played, SCENARIOS, scenarioText, temporaryFolder } from '../setup/runs.js'

describe('demo scenarios', () => {
  const out = temporaryFolder()

  it('are at least ten', () => {
    expect(SCENARIOS.length).toBeGreaterThanOrEqual(10)
  })

  it.each(SCENARIOS)('%s passes', async (name) => {
    const { verdict, folder } = await played(DEMO_RIG, scenarioText(name))
    expect(verdict.sentence).toBeTruthy()
    expect({ outcome: verdict.outcome, unmet: verdict.expectations.filter((e) => !e.met) }).toEqual({
      outcome: 'pass',
      unmet: [],
    })
    expect(readdirSync(folder).sort()).toEqual([
      'events.jsonl',
      'frames.pcapng',
      'junit.xml',
      'provenance.json',
      'report.html',
      'rig.yaml',
      'scenario.yaml',
      'verdict.json',
    ])
  })

  it.each([2, 3, 4])('slow-ahead passes with seed %i too', async (seed) => {
    const { verdict } = await play(out, DEMO_RIG, scenarioText('slow-ahead'), seed)
    expect(verdict).toMatchObject({ outcome: 'pass', seed })
  })
})
