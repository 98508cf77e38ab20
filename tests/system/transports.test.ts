/**
 * Runs on real transports with the arms in a process of their own: how they go, who brings faults about, how they are stopped, and
 * what is refused before anything moves. The rig's limits on time are wide: machines that run tests are busy. The whole demo
 * on each transport: transports/demo.mjs.
 */
import { spawn, spawnSync } from 'node:child_process'
import { once } from 'node:events'
import { existsSync, readFileSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { afterEach, beforeEach, describe, expect, it } from 'vitest'
import type { BenchEvent } from '../../src/files/event.js'
import { STAND_IN_CAUTION } from '../../src/verdict/cautions.js'
import type { Verdict } from '../../src/verdict/verdict.js'
import { joinedPtys, until } from '../setup/lines.js'
import { needs } from '../setup/needs.js'
import { freePorts, Program } from '../setup/program.js'
import { change, DEMO_RIG, play, scenarioText, temporaryFolder } from '../setup/runs.js'

const root = new URL('../../', import.meta.url).pathname
const work = temporaryFolder()
const WIDE: readonly (readonly [RegExp, string])[] = [
  [/rate: "200 Hz"/, 'rate: "50 Hz"'],
  [/stale-after: .*/, 'stale-after: "1 s"'],
  [/drive-heartbeat: .*/, 'drive-heartbeat: "100 ms"'],
  [/our-heartbeat: .*/, 'our-heartbeat: "100 ms"'],
  [/heartbeat-timeout: .*/, 'heartbeat-timeout: "3 s"'],
  [/ window: "10 deg"/, ' window: "40 deg"'],
  [/ window-timeout: .*/, ' window-timeout: "2 s"'],
  [
    /^watch: .*/m,
    'watch: { bus: { period: "1000 %", lost: "100 %", doubled: "100 %", late: "100 %" }, silence: { periods: 40, heartbeats: 30 }, tracking: { window: "30 deg", timeout: "2 s" } }',
  ],
]
const WIDE_RIG = `${WIDE.reduce((text, [from, to]) => change(text, from, to), DEMO_RIG)}
realtime: { late: "500 ms", most-late: 1000, fifo: false }
guardian: { timeout: "1 s" }
`
const RIG = file('rig.yaml', WIDE_RIG)
const moving = '  - { at: "0.5 s", surge: "0.3 m/s", yaw: "0 deg/s", over: "0.5 s" }'
const still = '  still: "5 s"\n  no-motion: true'
const CLEAN = file(
  'clean.yaml',
  `name: clean
about: Short and without a fault.
duration: "5 s"
commands:
${moving}
  - { at: "4 s", surge: "0 m/s", yaw: "0 deg/s", over: "0.5 s" }
expect: { outcome: finish, strokes: [], parked: true }
`,
)
const stopped = (name: string, cause: string, expect: string): string =>
  file(
    `${name}.yaml`,
    `name: ${name}
about: Short, and stopped on the way.
duration: "6 s"
commands:
${moving}
${cause}
expect:
  outcome: stop
  ${expect}
  within: "5 s"
${still}
`,
  )
const SILENT = stopped(
  'silent',
  'faults:\n  - { at: "2 s", fault: silent, joint: port.elbow }',
  'by: silence\n  joint: port.elbow',
)
const POWER = stopped(
  'power',
  'faults:\n  - { at: "2 s", fault: unpowered, joint: port.elbow }',
  'by: silence\n  joint: port.elbow',
)
const OPERATOR = stopped('operator', 'operator:\n  - { at: "2 s", do: stop }', 'by: operator')
const GONE = file(
  'gone.yaml',
  `name: gone
about: Both buses are lost on the way, and come back.
duration: "14 s"
commands:
${moving}
expect: { outcome: stop, by: bus, after: "0.5 s", within: "13 s", still: "13 s", no-motion: true }
`,
)
const LONG = file('long.yaml', change(readFileSync(CLEAN, 'utf8'), 'duration: "5 s"', 'duration: "200 s"'))

function file(name: string, text: string): string {
  const path = join(work, name)
  writeFileSync(path, text)
  return path
}

let programs: Program[]
let ends: (() => unknown)[]
let nth = 0
/** `--bus` of either side, and the socket of the arms. */
let over: string[]
let orders: string
let out: string

function start(...args: string[]): Program {
  const program = new Program(...args)
  programs.push(program)
  return program
}

const told = (addresses: readonly string[]): string[] => [
  ...['--bus', `port-can=${addresses[0]}`, '--bus', `starboard-can=${addresses[1]}`],
]

beforeEach(async () => {
  programs = []
  ends = []
  over = told((await freePorts(2)).map((port) => `slcan:tcp:127.0.0.1:${port}`))
  orders = join(work, `${nth}.sock`)
  out = join(work, `out-${nth++}`)
})
afterEach(async () => {
  for (const program of programs) await program.end('SIGKILL')
  for (const end of ends) await end()
})

async function arms(where: readonly string[] = over, rig = RIG): Promise<Program> {
  const program = start('stand-in', '--rig', rig, ...where, '--orders', orders, '--json')
  await program.line(/"serving"/)
  return program
}

function run(scenarios: readonly string[], ...more: string[]): Program {
  return start('run', ...scenarios, '--rig', RIG, ...over, '--out', out, ...more)
}

const joined = (): string[] => ['--stand-in', orders]
const read = <T>(name: string, what: string): T =>
  JSON.parse(readFileSync(join(out, name, what), 'utf8')) as T
const verdictOf = (name: string): Verdict => read(name, 'verdict.json')
function eventsOf(name: string): BenchEvent[] {
  const path = join(out, name, 'events.jsonl')
  if (!existsSync(path)) return []
  const lines = readFileSync(path, 'utf8').split('\n').slice(0, -1)
  return lines.map((line) => JSON.parse(line) as BenchEvent)
}
const inPlay = (name: string) => until(() => eventsOf(name).some((e) => e.kind === 'command'))

describe('on TCP, arms in a process of their own', () => {
  it('play what they are told, do the faults of a scenario, begin anew for the next, and are called a stand-in', async () => {
    const standIn = await arms()
    const played = run([SILENT, CLEAN, POWER], ...joined())
    expect(await played.ended(), [...played.out, ...played.err].join('\n')).toBe(0)
    expect(standIn.out.filter((l) => l.includes('"what":"fault"')).map((l) => JSON.parse(l).faults)).toEqual([
      [], // quiet
      [], // anew
      ['silent port.elbow'],
      ['silent port.elbow'], // quiet
      [], // anew
      [], // quiet
      [], // anew
      ['unpowered port.elbow'],
    ])
    for (const name of ['silent', 'clean', 'power']) {
      expect(verdictOf(name)).toMatchObject({
        outcome: 'pass',
        cautions: expect.arrayContaining([STAND_IN_CAUTION]),
      })
      expect(read(name, 'provenance.json')).toMatchObject({ arms: 'stand-in' })
      expect(eventsOf(name).find((e) => e.kind === 'arms')).toMatchObject({ arms: 'stand-in' })
      expect(readFileSync(join(out, name, 'report.html'), 'utf8')).toContain(STAND_IN_CAUTION)
    }
    // What a judge reads from the recording is what the run saw.
    const judged = start('judge', join(out, 'silent'), '--json')
    expect(await judged.ended()).toBe(0)
    expect(`${judged.out.join('\n')}\n`).toBe(readFileSync(join(out, 'silent/verdict.json'), 'utf8'))
  }, 180_000)

  it.each(['SIGINT', 'SIGTERM', 'SIGHUP'] as const)(
    'are stopped by %s, and the run ends with 3',
    async (signal) => {
      await arms()
      const played = run([LONG], ...joined())
      await inPlay('clean')
      played.process.kill(signal)
      expect(await played.ended()).toBe(3)
      expect(verdictOf('clean')).toMatchObject({
        outcome: 'incomplete',
        ended: 'signal',
        stop: { source: 'signal' },
      })
      expect(verdictOf('clean').stop!.toStill).not.toBeNull()
    },
  )

  it.skipIf(spawnSync('python3', ['-c', 'import pty']).status !== 0)(
    'are stopped by the space key',
    async () => {
      await arms()
      const typed = spawn('python3', [
        join(root, 'tests/system/on-a-terminal.py'),
        ...['20', join(out, 'clean/events.jsonl'), process.execPath, join(root, 'dist/cli/main.js')],
        ...['run', LONG, '--rig', RIG, ...over, '--out', out, ...joined()],
      ])
      ends.push(() => typed.kill('SIGKILL'))
      await once(typed, 'close')
      expect(verdictOf('clean').stop).toMatchObject({ source: 'key', says: 'the key space was pressed' })
    },
  )

  it('are lost in mid-run: a finding and a stop; others that come in their place are not moved', async () => {
    const first = await arms()
    const played = run([GONE], ...joined())
    await inPlay('gone')
    await first.end('SIGKILL')
    const second = await arms()
    const status = await played.ended()
    const { outcome, stop, findings, sentence } = verdictOf('gone')
    expect(stop, sentence).toMatchObject({ source: 'bus' })
    expect(findings.some((f) => f.watch === 'bus' && f.severity === 'failure')).toBe(true)
    // Nobody has seen these arms come to rest: never a pass.
    expect(outcome).not.toBe('pass')
    expect([1, 4]).toContain(status)
    expect(second.out.filter((l) => l.includes('"moves"') || l.includes('"active"'))).toEqual([])
  }, 120_000)
})

describe.skipIf(!needs('socat'))('on pseudo-terminals', () => {
  beforeEach(async () => {
    const pairs = [await joinedPtys(), await joinedPtys()]
    ends.push(...pairs.map((pair) => pair.end))
    over = told(pairs.map(({ near }) => `slcan:${near}`))
    far = told(pairs.map(({ far }) => `slcan:${far}`))
  })
  let far: string[]

  it('they pass a stop of the operator and a fault', async () => {
    await arms(far)
    const played = run([OPERATOR, SILENT], ...joined())
    expect(await played.ended(), [...played.out, ...played.err].join('\n')).toBe(0)
    expect(verdictOf('operator')).toMatchObject({ outcome: 'pass', stop: { source: 'operator' } })
  }, 120_000)

  it('a stand-in elsewhere proves nothing about the arms that are there', async () => {
    const elsewhere = await joinedPtys()
    const other = await joinedPtys()
    ends.push(elsewhere.end, other.end)
    await arms(told([`slcan:${elsewhere.far}`, `slcan:${other.far}`]))
    const refused = run([CLEAN], ...joined())
    expect(await refused.ended()).toBe(2)
    expect(refused.err.join('\n')).toMatch(
      /what it sends does not arrive on port-can, starboard-can: other arms may be there/,
    )
    expect(existsSync(out)).toBe(false)
  })

  it('an emergency-stop box whose port has no modem lines is refused before anything moves', async () => {
    const box = await joinedPtys()
    ends.push(box.end)
    const boxed = file('boxed.yaml', `${WIDE_RIG}stop-box: { device: "${box.near}", line: cts }\n`)
    const standIn = await arms(far, boxed)
    const refused = start('run', CLEAN, '--rig', boxed, ...over, '--out', out, ...joined())
    expect(await refused.ended()).toBe(2)
    expect(refused.err.join('\n')).toMatch(/stop-box: .*this port has no modem lines/)
    expect(existsSync(out)).toBe(false)
    expect(standIn.out.filter((l) => l.includes('"moves"'))).toEqual([])
  })
})

describe('refused before anything moves', () => {
  it('faults that nobody would bring about: every scenario that has one', async () => {
    const arms = run([join(root, 'scenarios')])
    expect(await arms.ended()).toBe(2)
    const said = arms.err.join('\n')
    for (const name of ['feedback-frozen', 'joint-jammed', 'joint-silent'])
      expect(said).toMatch(new RegExp(`${name}\\.yaml: .* a fault of simulated arms`))
    for (const name of ['bus-down', 'bus-off', 'bus-gone', 'bus-unplugged', 'bus-disturbed'])
      expect(said).toMatch(new RegExp(`${name}\\.yaml: .* a fault of a mock bus`))
    expect(said).toMatch(/--stand-in PATH/)
    expect(said).not.toMatch(/slow-ahead/)

    const buses = run([join(root, 'scenarios')], ...joined())
    expect(await buses.ended()).toBe(2)
    expect(buses.err.join('\n')).toMatch(/bus-down\.yaml: down at starboard-can, a fault of a mock bus/)
    expect(buses.err.join('\n')).not.toMatch(/simulated arms/)
    expect(existsSync(out)).toBe(false)
  })

  it('real arms that are said to be a stand-in, and mock buses', async () => {
    const nobody = run([CLEAN], ...joined())
    expect(await nobody.ended()).toBe(2)
    // Nobody serves the buses either; whichever is missed first is told.
    const mock = start('run', CLEAN, '--rig', RIG, '--out', out, ...joined())
    expect(await mock.ended()).toBe(2)
    expect(mock.err.join('\n')).toMatch(/--stand-in: rig reservoir-skiff has mock buses only/)
    expect(existsSync(out)).toBe(false)
  })
})

describe('an emergency-stop box of a rig that is played on simulated arms', () => {
  it('is not read, and the verdict says so', async () => {
    const boxed = `${DEMO_RIG}stop-box: { device: /dev/ttyUSB0, line: cts }\n`
    const said = /^The emergency-stop box of this rig was not read/
    const { verdict } = await play(join(work, 'boxed'), boxed, scenarioText('operator-stop'))
    expect(verdict.outcome).toBe('pass')
    expect(verdict.cautions.some((c) => said.test(c))).toBe(true)
    const without = await play(join(work, 'unboxed'), DEMO_RIG, scenarioText('operator-stop'))
    expect(without.verdict.cautions.some((c) => said.test(c))).toBe(false)
  })
})
