/** A recording with the guardian's account beside it: never a pass, and every report says what the guardian did. */
import { cpSync, readFileSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { beforeAll, describe, expect, it } from 'vitest'
import { GUARDIAN_FILE, type GuardianEvent } from '../../src/files/guardian-event.js'
import { findingsBlock } from '../../src/report/terminal.js'
import { judgeRecording } from '../../src/verdict/judge-recording.js'
import { DEMO_RIG, played, scenarioText, temporaryFolder } from '../setup/runs.js'

const out = temporaryFolder()
const folders = { 'slow-ahead': '' }
beforeAll(async () => {
  for (const name of ['slow-ahead'] as const)
    folders[name] = (await played(DEMO_RIG, scenarioText(name))).folder
})

const T = 9e9
const drive = (place: string, off: boolean): GuardianEvent => ({
  kind: 'drive',
  t: T + 2e9,
  place,
  state: off ? 'switch on disabled' : 'unknown',
  off,
  still: off ? T + 140e6 : null,
  sag: off ? 0 : null,
})
const account = (confirmed: 1 | 2): GuardianEvent[] => [
  {
    kind: 'takeover',
    t: T,
    cause: 'silent',
    unheard: 95e6,
    says: 'the bench process finished no tick for too long',
  },
  { kind: 'bench ended', t: T + 2e6, gone: true },
  { kind: 'stop', t: T + 3e6, category: 1 },
  drive('port.swing', true),
  drive('port.elbow', confirmed === 2),
  { kind: 'end', t: T + 2e9, confirmed, drives: 2, still: confirmed === 2 ? T + 140e6 : null },
]
const lines = (events: readonly GuardianEvent[]): string =>
  events.map((e) => `${JSON.stringify(e)}\n`).join('')

let count = 0
function withAccount(of: keyof typeof folders, text: string, share = 0.5): string {
  const copy = join(out, `copy-${count++}`)
  cpSync(folders[of], copy, { recursive: true })
  if (share < 1) {
    const path = join(copy, 'events.jsonl')
    const bytes = readFileSync(path)
    writeFileSync(path, bytes.subarray(0, Math.floor(share * bytes.length)))
  }
  writeFileSync(join(copy, GUARDIAN_FILE), text)
  return copy
}

describe('a run that the guardian ended', () => {
  it('is incomplete, and its sentence says who stopped the arms and what was confirmed', () => {
    const { verdict } = judgeRecording(withAccount('slow-ahead', lines(account(2)))).judgement
    expect(verdict).toMatchObject({ outcome: 'incomplete', ended: 'cut short' })
    expect(verdict.sentence).toContain(
      'The guardian stopped the arms, because the bench process finished no tick for too long; 2 of 2 drives confirmed, the last joint was at rest 140 ms after that (time since the last finished tick 95 ms, limit 100 ms)',
    )
  })

  it('is shown on the terminal with what to look at first', () => {
    const { verdict } = judgeRecording(withAccount('slow-ahead', lines(account(1)))).judgement
    const shown = findingsBlock(verdict, { colour: false }).replace(/\s+/g, ' ')
    expect(shown).toContain('1 of 2 drives confirmed, not every joint was seen at rest')
    expect(shown).toContain(
      'look first: The drives that confirmed nothing, before anybody goes near the arms',
    )
  })

  it('is no pass even when its recording is whole', () => {
    expect(judgeRecording(folders['slow-ahead']).judgement.verdict.outcome).toBe('pass')
    const { verdict } = judgeRecording(withAccount('slow-ahead', lines(account(2)), 1)).judgement
    expect(verdict.outcome).toBe('incomplete')
  })

  it('stays a failure when it was one', () => {
    const path = withAccount('slow-ahead', lines(account(2)), 1)
    const rig = readFileSync(join(path, 'rig.yaml'), 'utf8')
    writeFileSync(
      join(path, 'rig.yaml'),
      rig
        .replaceAll('speed: "180 deg/s"', 'speed: "20 deg/s"')
        .replaceAll('speed: 180 deg/s', 'speed: 20 deg/s'),
    )
    expect(judgeRecording(path).judgement.verdict.outcome).toBe('fail')
  })
})

describe('an account that is damaged is refused with its line', () => {
  it.each([
    ['cut', lines(account(2)).slice(0, -20), /line 6 is no JSON/],
    ['without its end', lines(account(2).slice(0, -1)), /does not go from "takeover" to "end"/],
    ['of something else', '{"a": 1}\n', /line 1 is no event/],
    ['empty', '', /does not go from/],
  ])('%s', (_, text, says) => {
    expect(() => judgeRecording(withAccount('slow-ahead', text))).toThrow(says)
  })
})
