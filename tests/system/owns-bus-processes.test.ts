/**
 * A driver that owns the buses as a program of its own, beside harness, guardian and simulated arms in processes of theirs, over
 * slcan and TCP. Limits on time are wide: machines that run tests are busy. What happens when, and on which identifier, is
 * tested in virtual time (owns-bus.test.ts).
 */
import { readdirSync, readFileSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { afterEach, beforeEach, describe, expect, it, vi } from 'vitest'
import type { Verdict } from '../../src/verdict/verdict.js'
import { freePorts, Program } from '../setup/program.js'
import { change, DEMO_RIG, eventsOf, temporaryFolder } from '../setup/runs.js'

vi.setConfig({ testTimeout: 300_000 })

const WIDE: readonly (readonly [RegExp, string])[] = [
  [/rate: "200 Hz"/, 'rate: "50 Hz"'],
  [/stale-after: .*/, 'stale-after: "1 s"'],
  [/drive-heartbeat: .*/, 'drive-heartbeat: "100 ms"'],
  [/our-heartbeat: .*/, 'our-heartbeat: "100 ms"'],
  [/heartbeat-timeout: .*/, 'heartbeat-timeout: "3 s"'],
  [/ window: "10 deg"/, ' window: "40 deg"'],
  [/ window-timeout: .*/, ' window-timeout: "2 s"'],
  [/sag: "1 deg"/, 'sag: "1 deg"\n  answer: "1 s"'],
  [
    /^watch: .*/m,
    'watch: { owner: { sync: 50, obey: "1 s" }, bus: { period: "1000 %", lost: "100 %", doubled: "100 %", late: "100 %" }, silence: { periods: 40, heartbeats: 30 }, tracking: { window: "30 deg", timeout: "2 s" } }',
  ],
]
const program = new URL('drivers/owning.mjs', import.meta.url).pathname
let folder: string
let programs: Program[]
let over: string[]
let driverOver: string[]
let rigFile: string

function start(...args: string[]): Program {
  const started = new Program(...args)
  programs.push(started)
  return started
}

async function ready(fault: string): Promise<void> {
  const ports = await freePorts(4)
  const at = (n: number): string => `127.0.0.1:${ports[n]}`
  const bus = (key: string, first: number): string[] =>
    ['port-can', 'starboard-can'].flatMap((name, i) => [key, `${name}=slcan:tcp:${at(first + i)}`])
  over = bus('--bus', 0)
  driverOver = bus('--driver-bus', 2)
  const run = JSON.stringify([process.execPath, program, 'rig.yaml', fault, at(2), at(3)])
  const text = WIDE.reduce((rig, [from, to]) => change(rig, from, to), DEMO_RIG)
  const owned = change(
    text,
    'kind: reference',
    `kind: process\n  run: ${run}\n  owns-bus: true\n  handshake: "45 s"`,
  )
  writeFileSync(
    rigFile,
    `${owned}\nrealtime: { late: "500 ms", most-late: 1000, fifo: false }\nguardian: { timeout: "1 s" }\n`,
  )
  const arms = start(
    'stand-in',
    '--rig',
    rigFile,
    ...over,
    ...driverOver,
    '--orders',
    join(folder, 'arms.sock'),
    '--json',
  )
  await arms.line(/"serving"/)
}

beforeEach(() => {
  folder = temporaryFolder()
  rigFile = join(folder, 'rig.yaml')
  programs = []
})
afterEach(async () => {
  for (const p of programs) await p.end('SIGKILL')
})

function play(expectation: string, more = ''): Program {
  const scenario = join(folder, 'short.yaml')
  writeFileSync(
    scenario,
    `name: short
about: Short, under a driver that owns the buses.
duration: "6 s"
commands:
  - { at: "0.5 s", surge: "0.2 m/s", yaw: "0 deg/s", over: "0.5 s" }
  - { at: "4 s", surge: "0 m/s", yaw: "0 deg/s", over: "0.5 s" }
${more}expect: { ${expectation} }
`,
  )
  const out = join(folder, 'out')
  return start(
    'run',
    scenario,
    '--rig',
    rigFile,
    ...over,
    '--out',
    out,
    '--stand-in',
    join(folder, 'arms.sock'),
    '--json',
  )
}

const verdictOf = (): Verdict => JSON.parse(readFileSync(join(recording(), 'verdict.json'), 'utf8'))
const recording = (): string => join(folder, 'out', readdirSync(join(folder, 'out'))[0]!)

describe('a driver that owns the buses, as a process', () => {
  it('plays a run, with the stop path proven through the stop PDO', async () => {
    await ready('none')
    const run = play('outcome: finish, strokes: [], parked: true')
    await run.ended()
    const verdict = verdictOf()
    expect(verdict.findings.filter((f) => f.severity !== 'warning')).toEqual([])
    expect(verdict.outcome).toBe('pass')
    expect(eventsOf(recording()).some((e) => e.kind === 'stage' && e.stage === 'prove')).toBe(true)
  })

  it('that does not obey a stop is ended, and the arms are', async () => {
    await ready('ignores-stop')
    // In the proof of the stop path already.
    const run = play('outcome: finish, strokes: [], parked: true')
    await run.ended()
    const events = eventsOf(recording())
    expect(events.some((e) => e.kind === 'silenced')).toBe(true)
    expect(verdictOf().findings.some((f) => f.watch === 'owner' && f.severity === 'failure')).toBe(true)
  })
})
