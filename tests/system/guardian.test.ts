/**
 * The guardian as it is, beside a bench process reduced to what it is about, and simulated arms, in three processes joined by
 * slcan over TCP. The drives do not stop by themselves here; whether they have stopped is told by an eye beside the arms. What
 * becomes of a real bench process is in bench-killed.test.ts.
 */
import { type SpawnOptions, spawn } from 'node:child_process'
import { once } from 'node:events'
import { chmodSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { text as textOf } from 'node:stream/consumers'
import { describe, expect, it, type TestContext, vi } from 'vitest'
import { DEMO_RIG, temporaryFolder } from '../setup/runs.js'
import { rigText } from './guardian/kill-rig.mjs'
import { Arms, Run } from './guardian/reduced.mjs'

// On a machine with ten other things to do a start alone takes half a minute.
vi.setConfig({ testTimeout: 300_000, hookTimeout: 300_000 })

/** Arms of their own, and a run that has begun to move them; nothing of either is left behind. */
async function start(test: TestContext, options: Record<string, unknown> = {}): Promise<Run> {
  const arms = await Arms.start({ patient: true })
  test.onTestFinished(() => arms.end())
  const run = await Run.start(arms, options)
  test.onTestFinished(() => run.end())
  return run
}

/** The command, in a process of its own. */
async function stop(
  { folder, rigText }: { readonly folder: string; readonly rigText: string },
  as: Pick<SpawnOptions, 'env' | 'uid' | 'gid'> = {},
) {
  const file = join(folder, 'rig-to-stop.yaml')
  writeFileSync(file, rigText)
  const main = new URL('../../dist/cli/main.js', import.meta.url).pathname
  const child = spawn(process.execPath, [main, 'stop', '--rig', file], {
    ...as,
    stdio: ['ignore', 'pipe', 'pipe'],
  })
  const [stdout, stderr] = [textOf(child.stdout), textOf(child.stderr)]
  const [status] = (await once(child, 'exit')) as [number | null]
  return { status, stdout: await stdout, stderr: await stderr }
}

interface Account {
  kind: string
  cause: string
  gone: boolean
  confirmed: number
  drives: number
  says: string
}
const of = (account: readonly Account[], kind: string): Account => account.find((e) => e.kind === kind)!

async function stoppedByGuardian(run: Run): Promise<Account[]> {
  await run.arms.stopped()
  const account = (await run.evidence()) as Account[]
  expect(of(account, 'bench ended').gone).toBe(true)
  expect(account.at(-1)).toMatchObject({ kind: 'end', confirmed: 12, drives: 12 })
  return account
}

describe.concurrent('a bench process', () => {
  it('that has not finished a tick yet is waited for, and seen when it dies', async (test) => {
    const run = await start(test, { neverTick: true })
    // Three time-outs.
    await new Promise((resolve) => setTimeout(resolve, 1500))
    expect(run.bench.ended).toBeNull()
    expect(run.guarded).toBe(true)
    run.bench.child.kill('SIGKILL')
    const account = (await run.evidence()) as Account[]
    expect(of(account, 'takeover').cause).toBe('gone')
  })

  it('that ends with a good-bye leaves no account, and no guardian', async (test) => {
    const run = await start(test)
    run.bench.tell('end')
    expect(await run.bench.exit()).toBe(0)
    await expect.poll(() => run.guarded, { timeout: 20_000 }).toBe(false)
    await expect(run.evidence(0)).rejects.toThrow('no account')
    await run.arms.stopped()
  })
})

describe.concurrent('the guardian itself', () => {
  it.for(['SIGINT', 'SIGHUP'] as const)('does not heed %s', async (signal, test) => {
    const run = await start(test)
    process.kill(run.guardian, signal)
    run.bench.child.kill('SIGKILL')
    await stoppedByGuardian(run)
  })

  it('lets no second run on the same rig begin', async (test) => {
    const run = await start(test)
    await expect(Run.start(run.arms, { buses: 'none' })).rejects.toThrow(/another run on a bus of this rig/)
  })
})

const CONFIRMED = 'All 12 drives confirmed: without torque, and at rest.'

describe.concurrent('drystroke stop', () => {
  it('has a run stop its arms, and says which drives confirmed', async (test) => {
    const run = await start(test)
    const { status, stdout } = await stop(run)
    expect(stdout).toContain(`${CONFIRMED}\nThe run itself stopped them.\n`)
    expect(stdout).toMatch(/^port\.swing +switch on disabled +off +at rest$/m)
    expect(status).toBe(0)
    expect(run.bench.said.find((s) => s.kind === 'stop')).toBeDefined()
    await run.arms.stopped()
    expect(await run.bench.exit()).toBe(0)
  })

  it('finds the guardian from another environment, and from another rig on one of its buses', async (test) => {
    const run = await start(test)
    const [elsewhere, folder] = [temporaryFolder(), temporaryFolder()]
    const env = { ...process.env, XDG_RUNTIME_DIR: elsewhere, TMPDIR: elsewhere, SUDO_UID: '4711' }
    const other = run.rigText.replace(/^name: .*/m, 'name: another-name')
    const half = other.replace(/(starboard-can\n\s+address: slcan:tcp:127\.0\.0\.1:)\d+/, '$11')
    const { status, stdout, stderr } = await stop({ folder, rigText: half }, { env })
    expect(stdout).toContain('The run itself stopped port.swing and 11 more.')
    expect(stdout).toMatch(/^port\.swing +switch on disabled +off +at rest$/m)
    // The bus that is somebody else's in that rig is opened, and cannot be.
    expect(stderr).toContain('Not reached: bus starboard-can')
    expect(status).toBe(1)
    await run.arms.stopped()
  })

  it.skipIf(process.getuid!() !== 0)('of another user finds a guardian of root', async (test) => {
    const run = await start(test)
    const folder = temporaryFolder()
    chmodSync(folder, 0o755)
    const nobody = 65_534
    const { status, stdout } = await stop({ folder, rigText: run.rigText }, { uid: nobody, gid: nobody })
    expect(stdout).toContain(`${CONFIRMED}\nThe run itself stopped them.\n`)
    expect(status).toBe(0)
    await run.arms.stopped()
  })

  it('of a run that does not obey has the guardian do it', async (test) => {
    const run = await start(test, { disobey: true })
    const { status, stdout } = await stop(run)
    expect(stdout).toContain(`${CONFIRMED}\nThe guardian stopped them.\n`)
    expect(status).toBe(0)
    const account = await stoppedByGuardian(run)
    expect(of(account, 'takeover').cause).toBe('disobedient')
    expect(await run.bench.exit()).toBe('SIGKILL')
  })

  it('of arms that nobody guards any more opens the buses itself', async (test) => {
    const run = await start(test)
    run.bench.child.kill('SIGSTOP')
    process.kill(run.guardian, 'SIGKILL')
    run.bench.child.kill('SIGKILL')
    await run.bench.exit()
    await run.arms.until((said) => said.findLast((s) => s.bus === 1)?.says.includes('the other side'))
    expect(run.arms.joints.some((j) => j.off)).toBe(false)
    const { status, stdout } = await stop(run)
    expect(stdout).toContain(`${CONFIRMED}\nNo guardian answered: the stop was sent on the buses directly.\n`)
    expect(status).toBe(0)
    await run.arms.stopped()
  })

  it('with no bus to be reached says so, and names the hard-wired stop', async () => {
    const { status, stderr } = await stop({
      folder: temporaryFolder(),
      rigText: rigText(['slcan:tcp:127.0.0.1:1', 'slcan:tcp:127.0.0.1:1']),
    })
    expect(status).toBe(2)
    expect(stderr).toContain('No bus of reservoir-skiff can be reached: nothing was stopped')
    expect(stderr).toContain('Press the hard-wired stop now')
    expect(stderr).toMatch(/bus port-can: 127\.0\.0\.1:1: nothing listens there/)
  })

  it('with one bus of two stops what it can, and is no success', async (test) => {
    const run = await start(test)
    run.bench.child.kill('SIGSTOP')
    process.kill(run.guardian, 'SIGKILL')
    run.bench.child.kill('SIGKILL')
    await run.bench.exit()
    const half = run.rigText.replace(/(starboard-can\n\s+address: slcan:tcp:127\.0\.0\.1:)\d+/, '$11')
    const { status, stdout, stderr } = await stop({ folder: run.folder, rigText: half })
    expect(stdout).toMatch(/^port\.elbow +switch on disabled +off +at rest$/m)
    expect(stdout).toMatch(/^starboard\.elbow +nothing +not known +not seen at rest$/m)
    expect(stdout).toContain('6 of 12 drives confirmed. What is not confirmed may still move.')
    expect(stderr).toContain('Not reached: bus starboard-can')
    expect(stderr).toContain('hard-wired stop')
    expect(status).toBe(1)
    expect((await stop(run)).status).toBe(0)
  })

  it('of a rig in memory says why it cannot', async () => {
    const { status, stderr } = await stop({ folder: temporaryFolder(), rigText: DEMO_RIG })
    expect(status).toBe(2)
    expect(stderr).toContain('all buses of this rig are in the memory of the run that plays on it')
  })
})
