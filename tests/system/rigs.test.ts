/** Other rigs through the whole pipeline: any number of joints an arm, each way of coupling the sides. */
import { readdirSync, readFileSync } from 'node:fs'
import { describe, expect, it } from 'vitest'
import { change, DEMO_RIG, play, scenarioText, temporaryFolder } from '../setup/runs.js'

const golden = new URL('../golden/rigs/', import.meta.url)
const out = temporaryFolder()

/** The scenario, for whatever arms: expectations that name a joint are not in these. */
const MOVING = ['slow-ahead', 'slow-astern', 'reversal']

describe.each(readdirSync(golden))('%s', (file) => {
  it.each(MOVING)('%s passes', async (scenario) => {
    const { verdict } = await play(out, readFileSync(new URL(file, golden), 'utf8'), scenarioText(scenario))
    expect(verdict.sentence).toMatch(/^Pass/)
    expect(verdict.outcome).toBe('pass')
  })
})

describe.each(['together', 'alternating'])('sides %s', (sides) => {
  const rig = change(DEMO_RIG, 'sides: free', `sides: ${sides}`)

  it.each([...MOVING, 'gentle-arc', 'pivot-to-port', 'one-side', 'stop-in-mid-drive'])(
    '%s passes',
    async (scenario) => {
      const { verdict } = await play(out, rig, scenarioText(scenario))
      expect(verdict.sentence).toMatch(/^Pass/)
      expect(verdict.outcome).toBe('pass')
    },
  )
})
