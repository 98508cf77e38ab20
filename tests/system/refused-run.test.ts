/** Runs on real buses that are refused: how the command ends, what it says, and that no arm is enabled and no recording is left. */
import { spawn } from 'node:child_process'
import { once } from 'node:events'
import { existsSync, mkdtempSync, readdirSync, writeFileSync } from 'node:fs'
import { type AddressInfo, createServer } from 'node:net'
import { join } from 'node:path'
import { text } from 'node:stream/consumers'
import { afterEach, expect, test } from 'vitest'
import { loadRig } from '../../src/files/load.js'
import { listenFor } from '../../src/stop/guardian/meeting-place.js'
import { placesHere } from '../../src/stop/places.js'
import { watchSchemas } from '../../src/watch/settings.js'
import { freePorts, Program } from '../setup/program.js'
import { change, DEMO_RIG, temporaryFolder } from '../setup/runs.js'

const root = new URL('../../', import.meta.url).pathname
const MAIN = join(root, 'dist/cli/main.js')
const RIG = join(root, 'rigs/reservoir-skiff.yaml')
const SCENARIO = join(root, 'scenarios/slow-ahead.yaml')
const work = temporaryFolder()

const ends: (() => unknown)[] = []
afterEach(async () => {
  for (const end of ends.splice(0)) await end()
})

async function drystroke(args: readonly string[], env: Record<string, string> = {}) {
  const child = spawn(process.execPath, [MAIN, ...args], {
    stdio: ['ignore', 'pipe', 'pipe'],
    env: { ...process.env, ...env },
  })
  const [stdout, stderr] = [text(child.stdout), text(child.stderr)]
  const [status] = (await once(child, 'close')) as [number | null]
  return { status, stdout: await stdout, stderr: await stderr }
}

/** What lies in the folder for recordings. */
const left = (out: string): string[] => (existsSync(out) ? readdirSync(out) : [])

/** Simulated arms in another process, and the arguments of a run on them. */
async function arms() {
  const own = mkdtempSync(join(work, 'run-'))
  const [port, starboard] = await freePorts(2)
  const [orders, out] = [join(own, 'arms.sock'), join(own, 'out')]
  const addresses = [`slcan:tcp:127.0.0.1:${port}`, `slcan:tcp:127.0.0.1:${starboard}`]
  const rigText = addresses.reduce((t, a) => change(t, 'address: mock', `address: "${a}"`), DEMO_RIG)
  const rig = join(own, 'rig.yaml')
  writeFileSync(rig, rigText)
  const standIn = new Program('stand-in', '--rig', rig, '--orders', orders, '--json')
  ends.push(() => standIn.end('SIGKILL'))
  await standIn.line(/"serving"/)
  return {
    own,
    out,
    rig,
    rigText,
    standIn,
    args: ['run', SCENARIO, '--rig', rig, '--stand-in', orders, '--out', out],
  }
}

/** By what the drives themselves say. */
async function expectUntouched({ rig, standIn }: Awaited<ReturnType<typeof arms>>): Promise<void> {
  const survey = await drystroke(['survey', '--rig', rig, '--ask', '--for', '0.2 s', '--json'])
  const { joints } = JSON.parse(survey.stdout)
  expect(joints).toHaveLength(12)
  for (const joint of joints)
    expect(joint.answer).toMatchObject({ answered: true, state: 'switch on disabled' })
  expect(standIn.out.filter((line) => line.includes('"moves"'))).toEqual([])
}

test('simulated arms on one bus and others on another: status 2, and the other bus was not even opened', async () => {
  let connections = 0
  const server = createServer((socket) => {
    connections++
    socket.destroy()
  })
  server.listen(0, '127.0.0.1')
  await once(server, 'listening')
  ends.push(() => server.close())
  const { port } = server.address() as AddressInfo
  const out = join(work, 'mixed')
  const { status, stdout, stderr } = await drystroke([
    ...['run', SCENARIO, '--rig', RIG, '--bus', `starboard-can=slcan:tcp:127.0.0.1:${port}`],
    ...['--stand-in', join(work, 'nobody.sock'), '--out', out],
  ])
  expect(status).toBe(2)
  expect(stderr).toContain(
    'has port-can on the mock bus and starboard-can elsewhere; expected all buses simulated, or none. Say --bus mock',
  )
  expect(stdout).toBe('')
  expect(connections).toBe(0)
  expect(left(out)).toEqual([])
})

test('a guardian that ends at once: status 2, no arm was enabled, and no recording is left', async () => {
  const run = await arms()
  const dying = join(run.own, 'dying.cjs')
  writeFileSync(dying, "if (process.argv[1]?.endsWith('/stop/guardian/main.js')) process.exit(7)\n")
  const { status, stdout, stderr } = await drystroke(run.args, { NODE_OPTIONS: `--require ${dying}` })
  expect(status).toBe(2)
  // Which of its ends is seen first depends on the moment.
  expect(stderr).toMatch(/The guardian could not be started: \S/)
  expect(stdout).toBe('')
  expect(left(run.out)).toEqual([])
  await expectUntouched(run)
})

test('a rig that is guarded already: the same', async () => {
  const run = await arms()
  const other = createServer()
  const leave = await listenFor(loadRig(run.rigText, 'rig.yaml', watchSchemas), other, placesHere())
  ends.push(() => {
    leave()
    other.close()
  })
  const { status, stderr } = await drystroke(run.args)
  expect(status).toBe(2)
  expect(stderr).toMatch(/The guardian could not be started: .*under way/)
  expect(left(run.out)).toEqual([])
  await expectUntouched(run)
})
