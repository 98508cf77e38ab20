/**
 * SIGINT and SIGTERM end a run in virtual time through the stop: exit status 3, recording whole and incomplete. How soon is
 * printed by tests/bench/signal.mjs.
 */
import { spawn } from 'node:child_process'
import { once } from 'node:events'
import { readFileSync, statSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { describe, expect, it } from 'vitest'
import { change, scenarioText, temporaryFolder } from '../setup/runs.js'

const root = new URL('../../', import.meta.url).pathname

describe.each(['SIGINT', 'SIGTERM'] as const)('%s', (signal) => {
  const out = temporaryFolder()

  it('ends the run through the stop', async () => {
    const long = join(out, 'long.yaml')
    writeFileSync(long, change(scenarioText('slow-ahead'), /^duration: .*/m, 'duration: "30 min"'))
    const child = spawn(
      process.execPath,
      [
        join(root, 'dist/cli/main.js'),
        ...['run', long, '--rig', join(root, 'rigs/reservoir-skiff.yaml'), '--out', join(out, 'run')],
      ],
      { stdio: 'ignore' },
    )
    const exit = once(child, 'exit')
    // Some way into the scenario: the loop is busy, not starting up.
    await grown(join(out, 'run/slow-ahead/frames.pcapng'), 4_000_000)
    child.kill(signal)
    const [status] = await exit
    expect(status).toBe(3)
    const verdict = JSON.parse(readFileSync(join(out, 'run/slow-ahead/verdict.json'), 'utf8'))
    expect(verdict).toMatchObject({ outcome: 'incomplete', ended: 'signal', stop: { source: 'signal' } })
    expect(verdict.length).toBeLessThan(30 * 60e9)
  })
})

/** Waits until a file is that long. */
async function grown(file: string, bytes: number): Promise<void> {
  while ((statSync(file, { throwIfNoEntry: false })?.size ?? 0) < bytes) {
    await new Promise((resolve) => setTimeout(resolve, 20))
  }
}
