/**
 * A driver that owns the buses as a program of its own, beside harness, guardian and simulated arms in processes of theirs, over
 * slcan and TCP. Limits on time are wide: machines that run tests are busy. What happens when, and on which identifier, is
 * tested in virtual time (owns-bus.test.ts).
 */
import { cpSync, existsSync, readdirSync, readFileSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { afterEach, beforeEach, describe, expect, it, vi } from 'vitest'
import { openRecording } from '../../src/record/read.js'
import { writeReports } from '../../src/report/write.js'
import { judgeRecording } from '../../src/verdict/judge-recording.js'
import type { Verdict } from '../../src/verdict/verdict.js'
import { childrenOf, commandOf, onlyChildOf } from '../setup/children.mjs'
import { until } from '../setup/lines.js'
import { gone } from '../setup/own-driver.js'
import { freePorts, Program } from '../setup/program.js'
import { change, DEMO_RIG, eventsOf, temporaryFolder } from '../setup/runs.js'

vi.setConfig({ testTimeout: 300_000 })

const WIDE: readonly (readonly [RegExp, string])[] = [
  [/rate: "200 Hz"/, 'rate: "50 Hz"'],
  [/stale-after: .*/, 'stale-after: "1 s"'],
  [/drive-heartbeat: .*/, 'drive-heartbeat: "500 ms"'],
  [/our-heartbeat: .*/, 'our-heartbeat: "100 ms"'],
  [/heartbeat-timeout: .*/, 'heartbeat-timeout: "3 s"'],
  [/ window: "10 deg"/, ' window: "40 deg"'],
  [/ window-timeout: .*/, ' window-timeout: "2 s"'],
  [/sag: "1 deg"/, 'sag: "1 deg"\n  answer: "1 s"'],
  [
    /^watch: .*/m,
    'watch: { owner: { sync: 50, obey: "1 s" }, setpoints: { uneven: "100 %", repeated: "100 %", silent: "2 s" }, bus: { period: "1000 %", lost: "100 %", doubled: "100 %", late: "100 %" }, silence: { periods: 40, heartbeats: 30 }, tracking: { window: "30 deg", timeout: "2 s" } }',
  ],
]
const program = new URL('drivers/owning.mjs', import.meta.url).pathname
let folder: string
let arms: Program
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
  arms = start(
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

/** Judged from frames and events alone: the same verdict and reports. */
function judgedAgain(): void {
  const copy = join(folder, 'copy')
  cpSync(recording(), copy, { recursive: true })
  for (const file of ['verdict.json', 'junit.xml']) writeFileSync(join(copy, file), '')
  writeReports(copy, judgeRecording(copy))
  for (const file of ['verdict.json', 'junit.xml'])
    expect(readFileSync(join(copy, file)).equals(readFileSync(join(recording(), file)))).toBe(true)
}

/** By the arms' own word, not by what their drives report: joints that move, and that have power. */
function truth(): { moving: number; powered: number } {
  const last = (one: string, other: string): number => {
    const state = new Map<string, boolean>()
    for (const line of arms.out) {
      const { what, joint } = JSON.parse(line)
      if (what === one || what === other) state.set(joint, what === one)
    }
    return [...state.values()].filter(Boolean).length
  }
  return { moving: last('moves', 'rests'), powered: last('powered', 'unpowered') }
}

const CLEAN = 'outcome: finish, strokes: [], parked: true'

describe('a driver that owns the buses, as a process', () => {
  it('plays a run, with the stop path proven through the stop PDO', async () => {
    await ready('none')
    const run = play(CLEAN)
    await run.ended()
    const verdict = verdictOf()
    expect(verdict.findings.filter((f) => f.severity !== 'warning')).toEqual([])
    expect(verdict.outcome).toBe('pass')
    expect(eventsOf(recording()).some((e) => e.kind === 'stage' && e.stage === 'prove')).toBe(true)
    judgedAgain()
  })

  it('that does not obey in the proof of the stop path is ended, and nothing was moved', async () => {
    await ready('ignores-stop')
    const run = play(CLEAN)
    await run.ended()
    const events = eventsOf(recording())
    expect(events.some((e) => e.kind === 'silenced')).toBe(true)
    expect(events.some((e) => e.kind === 'stage' && e.stage === 'approach')).toBe(false)
    expect(verdictOf().findings.some((f) => f.watch === 'owner' && f.severity === 'failure')).toBe(true)
    expect(truth()).toEqual({ moving: 0, powered: 0 })
  })

  it('that sends on after a stop is silenced first, then the stop goes out once more', async () => {
    await ready('ignores-later')
    const run = play(
      'outcome: stop, by: operator, after: "0 s", within: "5 s", still: "5 s", no-motion: false',
      'operator: [{ at: "2 s", do: stop }]\n',
    )
    await run.ended()
    const log = recorded()
    const [stop, silenced] = [log.indexOf('stop'), log.indexOf('silenced')]
    expect(log.slice(stop, silenced)).toContain('setpoint')
    // The stop of either bus went out right before the record of it: the frames do not wait for anything. What was under way may still come.
    const own = log.slice(stop, silenced).filter((e) => e !== 'setpoint')
    expect(own.slice(-2)).toEqual(['stop frame', 'stop frame'])
    expect(own.filter((e) => e === 'stop frame').length).toBeGreaterThan(2)
    expect(truth()).toEqual({ moving: 0, powered: 0 })
    expect(verdictOf().outcome).not.toBe('pass')
    judgedAgain()
  })

  it('and sends on when the harness is killed is ended by the guardian, which stops the arms', async () => {
    await ready('ignores-later')
    const run = play(CLEAN)
    await until(() => existsSync(join(folder, 'out')) && eventsIn().includes('"play"'))
    const before = arms.out.length
    await until(() => arms.out.slice(before).some((line) => line.includes('"moves"')))
    const bench = onlyChildOf(run.process.pid)
    const driver = childrenOf(bench).find((pid) => commandOf(pid).includes('owning.mjs'))!
    process.kill(bench, 'SIGKILL')
    await run.ended()
    await gone(driver)
    await until(() => truth().moving === 0 && truth().powered === 0)
    const account = readFileSync(join(recording(), 'guardian.jsonl'), 'utf8')
      .trim()
      .split('\n')
      .map((line) => JSON.parse(line))
    expect(account.find((e) => e.kind === 'driver ended')).toMatchObject({ gone: true })
    expect(account.at(-1)).toMatchObject({ kind: 'end', confirmed: 12, drives: 12 })
    expect(verdictOf().outcome).not.toBe('pass')
  })
})

const eventsIn = (): string => {
  const [name] = readdirSync(join(folder, 'out'))
  const file = name === undefined ? '' : join(folder, 'out', name, 'events.jsonl')
  return file !== '' && existsSync(file) ? readFileSync(file, 'utf8') : ''
}

/** What matters for the order of a stop, as it was recorded. */
function recorded(): string[] {
  const log: string[] = []
  openRecording(recording()).replay({
    frame: (_, { id, data }, __, sent) => {
      if (!sent && id > 0x200 && id < 0x280) log.push('setpoint')
      // Quick stop, or disable voltage once all are at rest.
      else if (sent)
        log.push(id === 0x181 && (data[0] === 2 || data[0] === 0) ? 'stop frame' : 'another frame')
    },
    event: (e) => {
      if (e.kind === 'silenced' || e.kind === 'stop') log.push(e.kind)
    },
  })
  return log
}
