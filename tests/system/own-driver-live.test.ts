/** A driver of somebody else's in real time: it leads arms of another process over TCP. */
import { mkdtempSync } from 'node:fs'
import { join } from 'node:path'
import { expect, test } from 'vitest'
import { driverTrial } from '../setup/driver-trial.js'
import { JAVASCRIPT } from '../setup/own-driver.js'
import { freePorts } from '../setup/program.js'
import { temporaryFolder } from '../setup/runs.js'

const work = temporaryFolder()
const LONG = { timeout: 200_000 }

async function overTcp(run: readonly string[]) {
  const [port, starboard] = await freePorts(2)
  return driverTrial(
    run,
    [`slcan:tcp:127.0.0.1:${port}`, `slcan:tcp:127.0.0.1:${starboard}`],
    mkdtempSync(join(work, 'trial-')),
  )
}

test.each([['JavaScript', JAVASCRIPT]])(
  'the example in %s leads a stand-in over TCP',
  LONG,
  async (_, run) => {
    const { status, verdict, log } = await overTcp(run)
    expect(verdict.findings.filter((f) => f.watch === 'driver' || f.watch === 'gate')).toEqual([])
    expect(verdict.outcome, verdict.sentence).toBe('pass')
    expect(status).toBe(0)
    const figures = new Map(
      verdict.watches.find((w) => w.watch === 'driver')!.figures.map((f) => [f.name, f.value]),
    )
    expect(figures.get('command to its answer, 50 %')).toBeGreaterThan(0)
    expect(figures.get('command to its answer, 50 %')).toBeLessThanOrEqual(
      figures.get('command to its answer, greatest')!,
    )
    expect(figures.get('commands ceased to rest')).toBeGreaterThan(0.5)
    expect(log.some((line) => line.includes('paddling reservoir-skiff'))).toBe(true)
  },
)
