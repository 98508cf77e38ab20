/** A driver that does not do what the command says, on recordings whose command events are altered. */
import { cpSync, mkdtempSync, readFileSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { describe, expect, it } from 'vitest'
import { judgeRecording } from '../../src/verdict/judge-recording.js'
import { change, DEMO_RIG, played, scenarioText, temporaryFolder } from '../setup/runs.js'

const out = temporaryFolder()

async function judgedAgainst(from: RegExp, to: string) {
  const { folder, verdict } = await played(DEMO_RIG, scenarioText('slow-ahead'))
  expect(verdict.outcome).toBe('pass')
  const copy = mkdtempSync(join(out, 'altered-'))
  cpSync(folder, copy, { recursive: true })
  const file = join(copy, 'events.jsonl')
  writeFileSync(file, change(readFileSync(file, 'utf8'), from, to))
  return judgeRecording(copy).judgement.verdict
}

describe('blades against the command', () => {
  it('25 % faster than asked fails for both arms', async () => {
    const verdict = await judgedAgainst(/"surge":0\.3,/g, '"surge":0.24,')
    expect(verdict.outcome).toBe('fail')
    for (const place of ['port', 'starboard']) {
      const finding = verdict.findings.find((f) => f.watch === 'sense' && f.place === place)!
      expect(finding).toMatchObject({
        watch: 'sense',
        quantity: 'blade speed on the even part',
        severity: 'failure',
      })
      expect(finding.value).toBeCloseTo(0.25, 2)
      expect(finding.limit).toBeCloseTo(0.05, 12)
    }
  })

  it('4 % faster than asked is within the permitted 5 %', async () => {
    expect((await judgedAgainst(/"surge":0\.3,/g, '"surge":0.2885,')).outcome).toBe('pass')
  })

  it('ahead instead of astern fails', async () => {
    const verdict = await judgedAgainst(/"surge":0\.3,/g, '"surge":-0.3,')
    expect(verdict.findings).toContainEqual(
      expect.objectContaining({ watch: 'sense', quantity: 'way against the command', severity: 'failure' }),
    )
  })
})
