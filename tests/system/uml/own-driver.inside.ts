/** The examples lead arms of another process over a kernel's CAN: vcan0 and vcan1. */
import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, expect, it } from 'vitest'
import { driverTrial } from '../../setup/driver-trial.js'
import { JAVASCRIPT, PYTHON } from '../../setup/own-driver.js'

const work = mkdtempSync(join(tmpdir(), 'driver-'))
afterAll(() => rmSync(work, { recursive: true, force: true }))

it.each([
  ['JavaScript', JAVASCRIPT],
  ['Python', PYTHON],
])('a driver in %s', { timeout: 240_000 }, async (_, run) => {
  const folder = mkdtempSync(join(work, 'trial-'))
  const { verdict } = await driverTrial(run, ['socketcan:vcan0', 'socketcan:vcan1'], folder)
  expect(verdict.findings.filter((f) => f.watch === 'driver' || f.watch === 'gate')).toEqual([])
  expect(verdict.outcome, verdict.sentence).toBe('pass')
})
