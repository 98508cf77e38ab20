/**
 * The tests that need real CAN, as they came out in user-mode Linux: uml/run.sh runs all of them in one boot, and each
 * result stands here as a test of its own.
 */
import { spawn } from 'node:child_process'
import { once } from 'node:events'
import { mkdtempSync, readdirSync, readFileSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { text } from 'node:stream/consumers'
import { describe, expect, it } from 'vitest'
import { needs } from '../setup/needs.js'

interface Result {
  readonly fullName: string
  readonly status: 'passed' | 'failed' | 'skipped' | 'pending' | 'todo' | 'disabled'
  readonly failureMessages: readonly string[]
}

interface Report {
  readonly testResults: readonly { readonly name: string; readonly assertionResults: readonly Result[] }[]
}

const FOLDER = new URL('uml/', import.meta.url).pathname
const FILES = readdirSync(FOLDER).filter((f) => f.endsWith('.inside.ts'))
const PACKAGES = [
  'user-mode-linux',
  'kmod',
  'iproute2',
  'can-utils',
  'socat',
  'python3-can',
  'gcc',
  'libc6-dev',
] as const

async function runInside(): Promise<{ status: number | null; words: string; report: Report }> {
  const folder = mkdtempSync(join(tmpdir(), 'drystroke-uml-results-'))
  try {
    const results = join(folder, 'results.json')
    const inside = spawn(
      join(FOLDER, 'run.sh'),
      ['--reporter=default', '--reporter=json', `--outputFile.json=${results}`],
      { stdio: ['ignore', 'pipe', 'pipe'] },
    )
    const [out, err, [status]] = await Promise.all([
      text(inside.stdout),
      text(inside.stderr),
      once(inside, 'close') as Promise<[number | null]>,
    ])
    let report: Report = { testResults: [] }
    try {
      report = JSON.parse(readFileSync(results, 'utf8')) as Report
    } catch {
      // The test of the whole run shows what was said instead.
    }
    return { status, words: `${out}${err}`, report }
  } finally {
    rmSync(folder, { recursive: true, force: true })
  }
}

if (!needs(...PACKAGES)) {
  describe.skip('real CAN in user-mode Linux', () => {
    it('needs Debian packages', () => {})
  })
} else {
  // While tests are collected: only then can each result become a test.
  const { status, words, report } = await runInside()

  describe('real CAN in user-mode Linux', () => {
    it('runs to its end without an error outside of tests', () => {
      const failed = report.testResults.flatMap((f) => f.assertionResults).some((r) => r.status === 'failed')
      expect(status, words).toBe(failed ? 1 : 0)
    })

    for (const file of FILES) {
      const results = report.testResults.find((r) => r.name.endsWith(`/${file}`))?.assertionResults ?? []

      it(`${file} has results`, () => {
        expect(results.length, words).toBeGreaterThan(0)
      })

      for (const result of results) {
        it.skipIf(result.status !== 'passed' && result.status !== 'failed')(result.fullName, () => {
          expect(result.failureMessages).toEqual([])
          expect(result.status).toBe('passed')
        })
      }
    }
  })
}
