/** `drystroke stopping` and `drystroke separation` as a person or a script meets them. */
import { readdirSync, readFileSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { describe, expect, it } from 'vitest'
import { drystroke } from '../setup/command.js'
import { change, DEMO_RIG, temporaryFolder } from '../setup/runs.js'

const out = temporaryFolder()
const RIG = new URL('../../rigs/reservoir-skiff.yaml', import.meta.url).pathname

function rigFile(name: string, text: string): string {
  const file = join(out, name)
  writeFileSync(file, text)
  return file
}

describe('drystroke stopping', () => {
  it('gives worst case and mean + 3 s at 33, 66 and 100 %, and says that the arms were simulated', () => {
    const recordings = join(out, 'recordings')
    const run = drystroke('stopping', '--rig', RIG, '--phases', '2', '--out', recordings)
    expect(run.status).toBe(0)
    for (const line of [
      /^33 % +time to still +\d/m,
      /^66 % +time to still +\d/m,
      /^100 % +time to still +\d/m,
    ])
      expect(run.stdout).toMatch(line)
    expect(run.stdout.match(/blade travel +[\d.]+ m/g)).toHaveLength(3)
    expect(run.stdout).toMatch(/SIMULATED\s+ARMS/)
    expect(run.stdout.replace(/\s+/g, ' ')).toContain('No separation distance may rest on them')
    for (const line of run.stdout.split('\n')) expect(line.length).toBeLessThanOrEqual(80)
    // What is kept can be played again, on other arms as well.
    const kept = readdirSync(recordings)
    expect(kept).toHaveLength(6)
    const again = drystroke(
      'run',
      join(recordings, kept[0]!, 'scenario.yaml'),
      '--rig',
      RIG,
      '--out',
      join(out, 'again'),
    )
    expect(again.status).toBe(0)
  })

  it('as JSON says the same of every stop, and that it is no basis for a distance', () => {
    const run = drystroke('stopping', '--rig', RIG, '--phases', '2', '--json')
    expect(run.status).toBe(0)
    const table = JSON.parse(run.stdout)
    expect(table).toMatchObject({ arms: 'simulated', basisForDistance: false, category: 1, phases: 2 })
    for (const { stops, summaries } of table.speeds) {
      expect(stops).toHaveLength(2)
      const most = Math.max(...stops.map((s: { bladeTravel: { value: number } }) => s.bladeTravel.value))
      const blade = summaries.find((s: { measure: string }) => s.measure === 'bladeTravel')
      expect(blade.worst.value).toBe(most)
    }
    expect(drystroke('stopping', '--rig', RIG, '--phases', '2', '--json').stdout).toBe(run.stdout)
  })

  it('fails and says which stop, when one is not right', () => {
    const sinking = rigFile('sinking.yaml', DEMO_RIG.replace(/brakes: true/g, 'brakes: false'))
    const run = drystroke('stopping', '--rig', sinking, '--phases', '2')
    expect(run.status).toBe(1)
    expect(run.stdout).toMatch(/stop-at-33-01: Fail: /)
    expect(run.stdout).toMatch(/^33 % +no stop came to rest/m)
  })

  it.each([
    [['stopping'], /--rig FILE/],
    [['stopping', '--rig', RIG, '--phases', '1'], /--phases 1: expected a whole number from 2 to 360/],
    [['stopping', '--rig', 'no-rig.yaml'], /no-rig\.yaml/],
  ])('%j: refused', (args, says) => {
    const { status, stderr } = drystroke(...args)
    expect(status).toBe(2)
    expect(stderr).toMatch(says)
  })
})

describe('drystroke separation', () => {
  const stated = rigFile(
    'stated.yaml',
    change(
      DEMO_RIG,
      /( {2}sag: "1 deg"\n)/,
      (sag) =>
        `${sag}  overall: { time: "0.32 s", entered: "a test, 4 May 2026, light curtain and stop watch" }\n`,
    ),
  )

  it('works the distance out from what the rig states, with edition, origin and caution', () => {
    const run = drystroke('separation', '--rig', stated, '--detection', '14 mm')
    expect(run.status).toBe(0)
    expect(run.stdout).toMatch(/ISO 13855:2010/)
    expect(run.stdout).toMatch(/320 ms, hard-wired stop, entered:\n +a test, 4 May 2026/)
    expect(run.stdout).toMatch(/^ {2}S = 512 mm$/m)
    expect(run.stdout).toMatch(/An aid, not an assessment/)
    const { stdout } = drystroke('separation', '--rig', stated, '--detection', '30 mm', '--json')
    expect(JSON.parse(stdout)).toMatchObject({ edition: 'ISO 13855:2010', distance: 0.64, speed: 1.6 })
  })

  it.each([
    [
      ['--rig', RIG, '--detection', '14 mm'],
      /states no overall stopping time of the hard-wired stop, and no stop by bus/,
    ],
    [['--rig', stated], /--detection SIZE/],
    [['--rig', stated, '--detection', '41 mm'], /at most 40 mm/],
    [['--rig', stated, '--detection', '14'], /has no unit/],
    [['--detection', '14 mm'], /--rig FILE/],
  ])('%j: refused, nothing is worked out', (args, says) => {
    const { status, stderr, stdout } = drystroke('separation', ...args)
    expect(status).toBe(2)
    expect(stderr).toMatch(says)
    expect(stdout).toBe('')
  })

  it('is not for a rig that does not say who entered the time', () => {
    const nameless = rigFile('nameless.yaml', readFileSync(stated, 'utf8').replace(/, entered: "[^"]*"/, ''))
    const { status, stderr } = drystroke('separation', '--rig', nameless, '--detection', '14 mm')
    expect(status).toBe(2)
    expect(stderr).toMatch(/stop\.overall: found no key "entered"/)
  })
})
