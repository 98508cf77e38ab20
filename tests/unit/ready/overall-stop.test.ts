import { writeFileSync } from 'node:fs'
import { describe, expect, it } from 'vitest'
import { loadRig, readRigFile } from '../../../src/files/load.js'
import type { Confirmation } from '../../../src/ready/confirmed.js'
import { confirmedOverall, overallNow } from '../../../src/ready/overall-stop.js'
import { confirmedFile } from '../../../src/ready/store.js'
import { watchSchemas } from '../../../src/watch/settings.js'
import { DEMO_RIG, temporaryFolder } from '../../setup/runs.js'

const RIG = readRigFile('rigs/reservoir-skiff.yaml', {})
const NOW = Date.parse('2030-06-30T12:00:00Z')
const ageOf = (at: string): number => (NOW - Date.parse(at)) / 1000

const given = (changes: Partial<Confirmation>): Confirmation => ({
  ...{ what: 'stop', place: '', at: '2030-06-01T12:00:01Z', by: 'somebody', rig: 'now', arms: 'real' },
  ...{ drive: null, time: null, found: 'every drive' },
  ...changes,
})
const STOP = given({})
const TIME = given({ what: 'stopping-time', time: 0.32, found: 'laser gate' })
const overall = (...confirmations: Confirmation[]) => confirmedOverall(RIG, confirmations, 'now', ageOf)

describe('the overall stopping time that people vouch for', () => {
  it('is the one entered for real arms, this rig and not too long ago, beside a stop that was seen to work', () => {
    expect(overall(STOP, TIME)).toEqual({
      test: {
        ...{ stop: 'hard-wired', arms: 'real', overall: 0.32 },
        confirmed: 'somebody, 2030-06-01: laser gate',
      },
    })
  })

  it('the newest counts', () => {
    expect(overall(STOP, TIME, { ...TIME, time: 0.5 }).test).toMatchObject({ overall: 0.5 })
  })

  it.each([
    ['nothing', [], /an overall stopping time of the hard-wired stop was never entered$/],
    ['no time', [STOP], /time .* was never entered$/],
    ['no stop', [TIME], /^the hard-wired stop was never confirmed$/],
    ['a time of simulated arms', [STOP, { ...TIME, arms: 'simulated' }], /entered, only rehearsed/],
    ['a time of a stand-in', [STOP, { ...TIME, arms: 'stand-in' }], /entered, only rehearsed/],
    [
      'a stop of a stand-in',
      [{ ...STOP, arms: 'stand-in' }, TIME],
      /the hard-wired stop was never confirmed, only/,
    ],
    [
      'a time for another rig',
      [STOP, { ...TIME, rig: 'then' }],
      /entered by somebody .*another state of the rig file/,
    ],
    [
      'a stop of another rig',
      [{ ...STOP, rig: 'then' }, TIME],
      /stop was confirmed .*another state of the rig/,
    ],
    ['a time that has expired', [STOP, { ...TIME, at: '2030-05-31T11:59:59Z' }], /time .* has expired/],
    [
      'a stop that has expired',
      [{ ...STOP, at: '2030-05-31T11:59:59Z' }, TIME],
      /^the hard-wired stop .* has expired/,
    ],
    ['a time of tomorrow', [STOP, { ...TIME, at: '2030-07-01T12:00:00Z' }], /in the future/],
    ['a time without its figure', [STOP, { ...TIME, time: null }], /cannot be/],
    [
      'a stop that was seen to take longer',
      [{ ...STOP, time: 0.33 }, TIME],
      /320 ms\) cannot be: .* for 330 ms/,
    ],
  ] as const)('%s: none, and why', (_, confirmations, says) => {
    const found = overall(...(confirmations as readonly Confirmation[]))
    expect(found).toEqual({ test: null, lacks: expect.stringMatching(says) })
  })

  it('a stop that was seen to take as long is no objection', () => {
    expect(overall({ ...STOP, time: 0.32 }, TIME).test).toMatchObject({ overall: 0.32 })
  })

  it('the harness never takes its own time for one', () => {
    expect(overall({ ...STOP, time: 0.2 }).test).toBeNull()
    expect(
      overall({ ...STOP, time: 0.2 }, given({ what: 'unplug', place: 'port-can', time: 0.1 })).test,
    ).toBeNull()
  })

  it('is read from beside the rig file, and a file that means nothing is an error, not none', () => {
    const rigFile = `${temporaryFolder()}/rig.yaml`
    const onFile = { rig: loadRig(DEMO_RIG, 'rig.yaml', watchSchemas), rigText: DEMO_RIG, rigFile }
    expect(overallNow(onFile).test).toBeNull()
    writeFileSync(confirmedFile(rigFile), '{}')
    expect(() => overallNow(onFile)).toThrow(/found format/)
  })
})
