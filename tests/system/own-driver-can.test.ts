/**
 * Drivers of somebody else's on CAN interfaces: harness, driver, simulated arms and candump are processes of a kernel that has them
 * (transports/demo.mjs). The verdict is also asked of what candump heard, which is no part of the project.
 */
import { mkdtempSync, readFileSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { describe, expect, test } from 'vitest'
import { needs } from '../setup/needs.js'
import { AnyProgram } from '../setup/program.js'
import { temporaryFolder } from '../setup/runs.js'

const PACKAGES = ['user-mode-linux', 'kmod', 'iproute2', 'can-utils', 'gcc', 'libc6-dev'] as const
const path = (name: string): string => new URL(name, import.meta.url).pathname
const work = temporaryFolder()

const AHEAD = `name: ahead
about: Short, ahead, on a slow machine.
duration: "9 s"
commands:
  - { at: "0.5 s", surge: "0.2 m/s", yaw: "0 deg/s", over: "1 s" }
  - { at: "6 s", ceases: true }
expect: { outcome: finish, parked: true }
`

interface Found {
  readonly outcome: string
  readonly sentence: string
  readonly findings: readonly { readonly watch: string; readonly says: string }[]
}

/** What a driver is at fault for. */
const ofDriver = ({ findings }: Found) =>
  findings.filter(({ watch }) => ['driver', 'gate', 'owner'].includes(watch)).map((f) => f.says)

describe.skipIf(!needs(...PACKAGES))('on CAN interfaces', () => {
  test.each([
    ['the example in JavaScript', 'javascript'],
    ['the example in Python', 'python'],
    ['a driver that owns the buses', 'owning'],
  ])('%s leads a stand-in', { timeout: 280_000 }, async (_, driver) => {
    const folder = mkdtempSync(join(work, `${driver}-`))
    const scenario = join(folder, 'ahead.yaml')
    writeFileSync(scenario, AHEAD)
    const out = join(folder, 'out')
    const told = ['vcan', '--driver', driver, '--tries', '1', '--out', out, scenario]
    const demo = new AnyProgram(process.execPath, [path('transports/demo.mjs'), ...told])
    await demo.ended()
    const words = [...demo.out, ...demo.err].join('\n')
    for (const file of ['ahead/verdict.json', 'ahead.by-log.json']) {
      const verdict: Found = JSON.parse(readFileSync(join(out, 'reservoir-skiff', file), 'utf8'))
      expect(ofDriver(verdict), words).toEqual([])
      expect(verdict.outcome, words).toBe('pass')
    }
  })
})
