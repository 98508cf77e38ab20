/** `drystroke stopping` and `drystroke separation` as a person or a script meets them. */
import { readdirSync, readFileSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { describe, expect, it } from 'vitest'
import { withBusAddresses } from '../../src/files/bus-override.js'
import { resolvedRigText } from '../../src/files/resolved-text.js'
import { rigHash } from '../../src/ready/confirmed.js'
import { confirmedFile, writeConfirmed } from '../../src/ready/store.js'
import { watchSchemas } from '../../src/watch/settings.js'
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
  it('gives worst case and mean + 3 s at 33, 66 and 100 %, names the motions, and says that the arms were simulated', () => {
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
    expect(
      run.stdout.match(/blade travel .* (ahead|astern|to port|to starboard) +[01]\.\d{3} /g),
    ).toHaveLength(3)
    expect(run.stdout.replace(/\s+/g, ' ')).toContain(
      'ahead, astern, pivot to port, pivot to starboard: 2 places',
    )
    expect(run.stdout).toMatch(/SIMULATED\s+ARMS/)
    expect(run.stdout.replace(/\s+/g, ' ')).toContain('No separation distance may rest on them')
    for (const line of run.stdout.split('\n')) expect(line.length).toBeLessThanOrEqual(80)
    // What is kept can be played again, on other arms as well.
    const kept = readdirSync(recordings)
    // At three speeds, in four motions.
    expect(kept).toHaveLength(24)
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
    const worsts = new Set<string>()
    for (const { stops, summaries } of table.speeds) {
      expect(stops).toHaveLength(8)
      expect(summaries).toHaveLength(3)
      for (const { measure, worst } of summaries) {
        const most = Math.max(...stops.map((s: Record<string, { value: number }>) => s[measure]!.value))
        expect(worst.value).toBe(most)
        worsts.add(worst.motion)
        const at = (s: { motion: string; phase: number }) =>
          s.motion === worst.motion && s.phase === worst.phase
        expect(stops.find(at)[measure]).toEqual({ value: most, place: worst.place })
      }
    }
    // On the demo rig it is not ahead that everything goes farthest.
    expect([...worsts].filter((motion) => motion !== 'ahead')).not.toEqual([])
  })

  it.each([
    ['astern', ['astern']],
    ['pivot', ['pivot-to-port', 'pivot-to-starboard']],
  ])('plays only stops %s where it is narrowed to that', (choice, motions) => {
    const run = drystroke('stopping', '--rig', RIG, '--phases', '2', '--motion', choice, '--json')
    expect(run.status).toBe(0)
    const table = JSON.parse(run.stdout)
    expect(table.motions).toEqual(motions)
    for (const { stops } of table.speeds) {
      expect(new Set(stops.map((s: { motion: string }) => s.motion))).toEqual(new Set(motions))
      expect(stops).toHaveLength(2 * motions.length)
    }
  })

  it('says the same each time', () => {
    const args = ['stopping', '--rig', RIG, '--phases', '2', '--motion', 'ahead', '--json']
    const once = drystroke(...args)
    expect(once.status).toBe(0)
    expect(JSON.parse(once.stdout).motions).toEqual(['ahead'])
    expect(drystroke(...args).stdout).toBe(once.stdout)
  })

  it('fails and says which stop, when one is not right', () => {
    const sinking = rigFile('sinking.yaml', DEMO_RIG.replace(/brakes: true/g, 'brakes: false'))
    const run = drystroke('stopping', '--rig', sinking, '--phases', '2', '--motion', 'astern')
    expect(run.status).toBe(1)
    expect(run.stdout).toMatch(/stop-astern-33-01: Fail: /)
    expect(run.stdout).toMatch(/^33 % +no stop came to rest/m)
  })

  it.each([
    [['stopping'], /--rig FILE/],
    [['stopping', '--rig', RIG, '--phases', '1'], /--phases 1: expected a whole number from 2 to 360/],
    [['stopping', '--rig', RIG, '--motion', 'sideways'], /ahead.*astern.*pivot/],
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
    expect(run.stdout).toMatch(/320 ms, hard-wired stop, stated in the rig:\n +a test, 4 May 2026/)
    expect(run.stdout).toMatch(/^ {2}S = 512 mm$/m)
    expect(run.stdout).toMatch(/An aid, not an assessment/)
    const { stdout } = drystroke('separation', '--rig', stated, '--detection', '30 mm', '--json')
    expect(JSON.parse(stdout)).toMatchObject({ edition: 'ISO 13855:2010', distance: 0.64, speed: 1.6 })
  })

  it.each([
    [
      ['--rig', RIG, '--detection', '14 mm'],
      /time of the hard-wired stop was never entered, and the rig states no .*; no stop by bus/,
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

  describe('from what was entered in the guided test of the hard-wired stop', () => {
    const file = rigFile('tested.yaml', DEMO_RIG)
    const bus = ['--bus', 'port-can=socketcan:can0', '--bus', 'starboard-can=socketcan:can1']
    const text = withBusAddresses(DEMO_RIG, ['port-can', 'starboard-can'], [bus[1]!, bus[3]!])
    const given = {
      ...{ place: '', at: new Date().toISOString(), by: 'somebody', drive: null, found: 'laser gate' },
      ...{ rig: rigHash(resolvedRigText(text, watchSchemas)), arms: 'real' as const },
    }
    const keep = (time: number): void =>
      writeConfirmed(confirmedFile(file), 'reservoir-skiff', [
        { ...given, what: 'stop', time: 0.1 },
        { ...given, what: 'stopping-time', time },
      ])
    const worked = (...args: string[]) =>
      drystroke('separation', '--rig', file, '--detection', '14 mm', ...args)

    it('works the distance out, and says whose time it is', () => {
      keep(0.165)
      const { status, stdout } = worked(...bus)
      expect(status).toBe(0)
      expect(stdout).toMatch(
        /165 ms, hard-wired stop, entered in its guided test:\n +somebody, 20.*laser gate/,
      )
      expect(stdout).toMatch(/^ {2}S = 330 mm$/m)
    })

    it('refuses one that was given for other buses: that is another rig', () => {
      keep(0.165)
      expect(worked()).toMatchObject({
        status: 2,
        stderr: expect.stringMatching(/another state of the rig file/),
      })
    })

    it('refuses one that the test itself has shown to be too short', () => {
      keep(0.09)
      expect(worked(...bus)).toMatchObject({ status: 2, stderr: expect.stringMatching(/90 ms\) cannot be/) })
    })
  })

  it('is not for a rig that does not say who entered the time', () => {
    const nameless = rigFile('nameless.yaml', readFileSync(stated, 'utf8').replace(/, entered: "[^"]*"/, ''))
    const { status, stderr } = drystroke('separation', '--rig', nameless, '--detection', '14 mm')
    expect(status).toBe(2)
    expect(stderr).toMatch(/stop\.overall: found no key "entered"/)
  })
})
