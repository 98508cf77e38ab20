/** The load watch in whole runs: a scenario that passes dry and would overload the arms afloat, and rigs that say nothing of masses. */
import { cpSync, readFileSync, rmSync } from 'node:fs'
import { join } from 'node:path'
import { beforeAll, describe, expect, it } from 'vitest'
import { playScenario } from '../../src/bench/play.js'
import { readRig } from '../../src/cli/inputs.js'
import { loadRig, loadScenario } from '../../src/files/load.js'
import { writeReports } from '../../src/report/write.js'
import { judgeRecording } from '../../src/verdict/judge-recording.js'
import type { Verdict } from '../../src/verdict/verdict.js'
import { watchSchemas } from '../../src/watch/settings.js'
import { change, DEMO_RIG, play, temporaryFolder } from '../setup/runs.js'

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

describe('drives that give all that they may', () => {
  const text = readFileSync(join(root, 'scenarios/afloat/ahead.yaml'), 'utf8')
  const off = ({ watches }: Verdict, joint: string): number =>
    watches
      .find((w) => w.watch === 'load')!
      .figures.find((f) => f.place === joint && f.name === 'torque, off the model, greatest')!.value

  it('are no evidence against the model, nor are the joints that they shake', async () => {
    const strong = (await play(out, DEMO_RIG, text)).verdict
    // 12.6 N m for a shoulder that takes 13.7 now and then.
    const weak = (await play(out, change(DEMO_RIG, 'torque-share: "60 %"', 'torque-share: "42 %"'), text))
      .verdict
    const told = weak.watches.find((w) => w.watch === 'load')!.figures
    const peak = told.find((f) => f.place === 'port.shoulder' && f.name === 'torque, told by the drive, peak')
    expect(peak!.value).toBeCloseTo(0.42 * 30, 2)
    expect(weak.outcome).toBe('pass')
    for (const joint of ['shoulder', 'elbow', 'pitch'].flatMap((j) => [`port.${j}`, `starboard.${j}`]))
      expect(off(weak, joint), joint).toBeLessThan(1.1 * off(strong, joint))
  })
})

describe.each(['ahead', 'port-only'])('afloat/%s, and the same script on dry land', (name) => {
  const text = readFileSync(join(root, `scenarios/afloat/${name}.yaml`), 'utf8')
  const rig = loadRig(DEMO_RIG, 'rig.yaml', watchSchemas)
  const figure = ({ watches }: Verdict, watch: string, place: string, called: string): number =>
    watches.find((w) => w.watch === watch)!.figures.find((f) => f.place === place && f.name === called)!.value
  let told: Verdict
  let foretold: Verdict

  beforeAll(async () => {
    told = (await play(out, DEMO_RIG, text)).verdict
    foretold = (await play(out, DEMO_RIG, change(text, 'plant: afloat\n', ''))).verdict
  })

  it('what the dry run foretells of the water comes true: speed of the craft, heaviest stroke and peak of every joint', () => {
    const surge = figure(told, 'craft', '', 'surge, fastest')
    expect(figure(foretold, 'load', '', 'surge afloat, predicted, fastest') / surge).toBeCloseTo(1, 2)
    for (const { name: joint, rating } of rig.joints) {
      for (const what of ['peak', 'RMS of the heaviest stroke']) {
        if (name === 'port-only' && joint.startsWith('starboard')) continue
        const there = figure(told, 'load', joint, `torque, told by the drive, ${what}`)
        const here = figure(foretold, 'load', joint, `torque, afloat, ${what}`)
        // Peaks have the ripple of a drive that follows setpoints in whole counts; the fits round it off.
        const slack =
          what === 'peak'
            ? 0.06 * there + 0.025 * rating!.continuous
            : 0.03 * there + 0.005 * rating!.continuous
        expect(Math.abs(here - there), `${joint}, ${what}: ${here}, then ${there}`).toBeLessThan(slack)
      }
    }
  })

  it('the drives are off the model by no more than fits and noise leave, and the verdict says that this is no evidence', () => {
    for (const { name: joint, rating } of rig.joints) {
      expect(figure(told, 'load', joint, 'torque, noise of the filter'), joint).toBeGreaterThan(0)
      expect(figure(told, 'load', joint, 'torque, off the model, RMS'), joint).toBeLessThan(
        0.04 * rating!.continuous,
      )
      // An arm that rests has no torque to speak of in its upright joints, and so no ratio.
      if (name === 'port-only' && joint.startsWith('starboard')) continue
      // Below 1 where friction is most of it: near rest the plant lets it fade, and the watch has all of it or none.
      const ratio = figure(told, 'load', joint, 'torque, told over model')
      expect(ratio, joint).toBeGreaterThan(0.9)
      expect(ratio, joint).toBeLessThan(1.02)
    }
    expect(told.cautions.join(' ')).toContain('Nothing here says how far to trust the torques of the model')
    expect(told.cautions.join(' ')).not.toContain('Trust the torques of the model no further')
  })
})
