/** Every scenario of the stop set passes on the demo rig, at its own speed and phase. Adding one is adding a file. */
import { readdirSync, readFileSync } from 'node:fs'
import { describe, expect, it } from 'vitest'
import { DEMO_RIG, play, temporaryFolder } from '../setup/runs.js'

const set = new URL('../../scenarios/stop/', import.meta.url)
const files = readdirSync(set).filter((f) => f.endsWith('.yaml'))

describe('scenarios/stop', () => {
  const out = temporaryFolder()

  it.each(files)('%s passes', async (file) => {
    const { verdict } = await play(out, DEMO_RIG, readFileSync(new URL(file, set), 'utf8'))
    expect(verdict.sentence).toMatch(/^Pass/)
    expect(verdict.outcome).toBe('pass')
  })
})
