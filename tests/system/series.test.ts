/**
 * Several scenarios in one command on arms in another process: what stopped one of them, or what another terminal wanted
 * meanwhile, is not undone by the next one's start. Time limits of the rig are wide, as in realtime.test.ts.
 */
import { type ChildProcess, spawn } from 'node:child_process'
import { once } from 'node:events'
import { existsSync, mkdirSync, readFileSync, writeFileSync } from 'node:fs'
import { createServer } from 'node:net'
import { join } from 'node:path'
import { afterEach, describe, expect, it, vi } from 'vitest'
import type { BenchEvent } from '../../src/files/event.js'
import { loadRig } from '../../src/files/load.js'
import { resolvedRigText } from '../../src/files/resolved-text.js'
import { rigHash, toConfirm } from '../../src/ready/confirmed.js'
import { confirmedFile, writeConfirmed } from '../../src/ready/store.js'
import { leaveStopMark } from '../../src/stop/mark.js'
import { watchSchemas } from '../../src/watch/settings.js'
import { onlyChildOf } from '../setup/children.mjs'
import { change, DEMO_RIG, scenarioText, temporaryFolder } from '../setup/runs.js'

vi.setConfig({ testTimeout: 300_000 })

const main = new URL('../../dist/cli/main.js', import.meta.url).pathname
const children: ChildProcess[] = []
afterEach(() => {
  for (const child of children.splice(0)) if (child.exitCode === null) child.kill('SIGKILL')
})

async function freePort(): Promise<number> {
  const server = createServer().listen(0, '127.0.0.1')
  await once(server, 'listening')
  const { port } = server.address() as { port: number }
  server.close()
  await once(server, 'close')
  return port
}

function command(...args: string[]): ChildProcess & { said: string } {
  const child = Object.assign(spawn(process.execPath, [main, ...args], { stdio: 'pipe' }), { said: '' })
  children.push(child)
  for (const stream of [child.stdout, child.stderr])
    stream.on('data', (bytes) => {
      child.said += bytes
    })
  return child
}

/** Looks again until it is so; the test's own time limit ends it. */
async function until(holds: () => boolean): Promise<void> {
  while (!holds()) await new Promise((resolve) => setTimeout(resolve, 20))
}

const WIDE: readonly (readonly [RegExp, string])[] = [
  [/rate: "200 Hz"/, 'rate: "50 Hz"'],
  [/stale-after: .*/, 'stale-after: "1 s"'],
  [/heartbeat-timeout: .*/, 'heartbeat-timeout: "2 s"'],
  [/watchdog: .*/, 'watchdog: false'],
  [/^watch: .*/m, 'watch: { silence: { periods: 50, heartbeats: 20 } }'],
]

/** Two scenarios in a row on arms that are served over TCP, as far as the cautions: somebody lets the arms move. */
async function series() {
  const folder = temporaryFolder()
  let text = WIDE.reduce((rig, [from, to]) => change(rig, from, to), DEMO_RIG)
  for (let bus = 0; bus < 2; bus++)
    text = text.replace('address: mock', `address: slcan:tcp:127.0.0.1:${await freePort()}`)
  text += 'realtime: { late: "100 ms", most-late: 1000, fifo: false }\nguardian: { timeout: "1 s" }\n'
  const file = join(folder, 'rig.yaml')
  writeFileSync(file, text)
  const rig = loadRig(text, file, watchSchemas)
  const hash = rigHash(resolvedRigText(text, watchSchemas))
  const at = new Date().toISOString()
  const all = toConfirm(rig).map((c) => ({
    ...c,
    at,
    by: 'test',
    rig: hash,
    arms: 'real' as const,
    drive: null,
    time: null,
    found: '',
  }))
  writeConfirmed(confirmedFile(file), rig.name, all)
  const scenarios = join(folder, 'scenarios')
  mkdirSync(scenarios)
  for (const name of ['one', 'two'])
    writeFileSync(
      join(scenarios, `${name}.yaml`),
      change(scenarioText('slow-ahead'), /^name: .*/m, `name: ${name}`),
    )
  const arms = command('stand-in', '--rig', file, '--json')
  await until(() => arms.said.includes('"serving"'))
  const out = join(folder, 'out')
  const run = command('run', scenarios, '--rig', file, '--out', out, '--confirm', rig.name)
  await until(() => run.said.includes('are about to move'))
  return { rig, run, out }
}

const events = (folder: string): BenchEvent[] => {
  const file = join(folder, 'events.jsonl')
  const lines = existsSync(file) ? readFileSync(file, 'utf8').split('\n').slice(0, -1) : []
  return lines.map((line) => JSON.parse(line) as BenchEvent)
}

describe('two scenarios on arms that are not simulated in this process', () => {
  it('the second does not begin after the bench process of the first was killed', async () => {
    const { run, out } = await series()
    await until(() => events(join(out, 'one')).some((e) => e.kind === 'stage' && e.stage === 'enable'))
    process.kill(onlyChildOf(run.pid), 'SIGKILL')
    const [status] = await once(run, 'exit')
    expect([1, 4]).toContain(status)
    expect(existsSync(join(out, 'two'))).toBe(false)
  })

  it('a stop that was asked for before there was a guardian is heard: nothing is enabled, and the second does not begin', async () => {
    const { rig, run, out } = await series()
    leaveStopMark(rig)
    const [status] = await once(run, 'exit')
    expect(status).toBe(3)
    const all = events(join(out, 'one'))
    expect(all.find((e) => e.kind === 'stop')).toMatchObject({ source: 'command' })
    expect(all.flatMap((e) => (e.kind === 'stage' ? [e.stage] : []))).not.toContain('enable')
    expect(existsSync(join(out, 'two'))).toBe(false)
  })
})
