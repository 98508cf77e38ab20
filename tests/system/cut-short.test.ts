/**
 * A recording of which a part is lost, as after a kill or a power failure: the verdict is incomplete, and nothing is
 * said against a joint that the whole recording does not say.
 */
import { cpSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { beforeAll, describe, expect, it } from 'vitest'
import { judgeRecording } from '../../src/verdict/judge-recording.js'
import type { Verdict } from '../../src/verdict/verdict.js'
import { DEMO_RIG, played, scenarioText, temporaryFolder } from '../setup/runs.js'

const SHARES = [0.02, 0.3, 0.6, 0.9, 0.999]

const failures = (verdict: Verdict): string[] =>
  verdict.findings
    .filter((f) => f.severity === 'failure')
    .map((f) => `${f.watch} ${f.place} ${f.quantity} at ${f.t}`)

describe.each(['slow-ahead', 'feedback-frozen', 'operator-stop'])('%s', (name) => {
  const out = temporaryFolder()
  let folder = ''
  let whole: readonly string[] = []

  beforeAll(async () => {
    const run = await played(DEMO_RIG, scenarioText(name))
    folder = run.folder
    whole = failures(run.verdict)
  })

  it.each(['events.jsonl', 'frames.pcapng'].flatMap((file) => SHARES.map((share) => [file, share] as const)))(
    '%s cut at %d of its length is incomplete, and no new failure is found',
    (file, share) => {
      const copy = mkdtempSync(join(out, 'cut-'))
      cpSync(folder, copy, { recursive: true })
      try {
        const path = join(copy, file)
        const bytes = readFileSync(path)
        writeFileSync(path, bytes.subarray(0, Math.floor(share * bytes.length)))
        const { verdict } = judgeRecording(copy).judgement
        expect(verdict).toMatchObject({ outcome: 'incomplete', ended: 'cut short' })
        expect(failures(verdict).filter((f) => !whole.includes(f))).toEqual([])
      } finally {
        rmSync(copy, { recursive: true })
      }
    },
  )
})
