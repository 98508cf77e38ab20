/** The load watch in whole runs: a scenario that passes dry and would overload the arms afloat, and rigs that say nothing of masses. */
import { cpSync, readFileSync, rmSync } from 'node:fs'
import { join } from 'node:path'
import { describe, expect, it } from 'vitest'
import { playScenario } from '../../src/bench/play.js'
import { readRig } from '../../src/cli/inputs.js'
import { loadScenario } from '../../src/files/load.js'
import { writeReports } from '../../src/report/write.js'
import { judgeRecording } from '../../src/verdict/judge-recording.js'
import { play, temporaryFolder } from '../setup/runs.js'

const root = new URL('../../', import.meta.url).pathname
const out = temporaryFolder()
const rigFile = join(root, 'rigs/reservoir-skiff-urdf.yaml')
const massless = readFileSync(join(root, 'tests/golden/rigs/four-joints.yaml'), 'utf8')
const fast = readFileSync(join(root, 'scenarios/load/full-reversal.yaml'), 'utf8')

function playWeighed(text: string) {
  // As the command line does it: a recording holds the arms written out.
  const { rig, rigText } = readRig(rigFile, [])
  const scenario = loadScenario(text, 'scenario.yaml', rig)
  const files = { rig, rigText, rigFile, scenario, scenarioText: text, scenarioFile: 'scenario.yaml' }
  return playScenario({ ...files, outDir: out, seed: 1 })
}

describe('full-reversal', () => {
  it('passes dry but for the load watch, which tells what would be overloaded afloat; judged later the same', async () => {
    const { verdict, folder } = await playWeighed(fast)
    expect(verdict.expectations.filter((e) => !e.met).map((e) => e.expected)).toEqual(['no failure'])
    const failures = verdict.findings.filter((f) => f.severity === 'failure')
    expect(failures.length).toBeGreaterThan(0)
    for (const f of failures) {
      expect(f).toMatchObject({ watch: 'load', quantity: 'torque afloat', stop: null })
      expect(f.says).toMatch(/^Dry pass, afloat overload: .* at stroke phase 0\.\d+, margin -[\d.]+ N m\.$/)
    }
    expect(verdict.outcome).toBe('fail')
    const copy = `${folder}-copy`
    cpSync(folder, copy, { recursive: true })
    const derived = ['verdict.json', 'junit.xml', 'report.html']
    for (const file of derived) rmSync(join(copy, file))
    writeReports(copy, judgeRecording(copy))
    for (const file of derived)
      expect(readFileSync(join(copy, file)).equals(readFileSync(join(folder, file)))).toBe(true)
  })

  it('is silent on a rig that states no masses, and the verdict says so', async () => {
    const still =
      'name: still\nabout: Nothing is asked for.\nduration: "1 s"\nexpect: { outcome: finish, parked: true }\n'
    const { verdict } = await play(out, massless, still)
    expect(verdict.sentence).toMatch(/^Pass/)
    expect(verdict.watches.map((w) => w.watch)).not.toContain('load')
    expect(verdict.cautions.filter((c) => c.includes('nothing watched what the arms bear'))).toHaveLength(1)
  })
})
