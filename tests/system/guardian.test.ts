/**
 * The guardian as it is: bench process, guardian and simulated arms in three processes, joined by slcan over TCP. The drives
 * do not stop by themselves here, so that it is the guardian who stops them; whether they have is told by an eye beside the
 * arms. Times are not asserted: `npm run test:kill` prints them.
 */
import { spawn } from 'node:child_process'
import { once } from 'node:events'
import { writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { text as textOf } from 'node:stream/consumers'
import { afterEach, beforeAll, describe, expect, it, vi } from 'vitest'
import { DEMO_RIG, temporaryFolder } from '../setup/runs.js'
import { Arms, MANNERS, Run, rigText, TooLate } from './guardian/trial.mjs'

// On a machine with ten other things to do a start alone takes half a minute.
vi.setConfig({ testTimeout: 300_000, hookTimeout: 300_000 })

let arms: Arms
beforeAll(async () => {
  arms = await Arms.start()
  return () => arms.end()
})

const runs: Run[] = []
afterEach(async () => {
  for (const run of runs.splice(0)) await run.end()
})

/** A machine with more to do than it can may stop a run before its turn; that start is made again. */
async function start(options: Record<string, unknown> = {}): Promise<Run> {
  for (let again = 0; ; again++) {
    try {
      const run = await Run.start(arms, options)
      runs.push(run)
      return run
    } catch (error) {
      if (!(error instanceof TooLate) || again === 5) throw error
    }
  }
}

/** The command, in a process of its own. */
async function stop({ folder, rigText }: { readonly folder: string; readonly rigText: string }) {
  const file = join(folder, 'rig-to-stop.yaml')
  writeFileSync(file, rigText)
  const main = new URL('../../dist/cli/main.js', import.meta.url).pathname
  const child = spawn(process.execPath, [main, 'stop', '--rig', file], { stdio: ['ignore', 'pipe', 'pipe'] })
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
  await arms.stopped()
  const account = (await run.evidence()) as Account[]
  expect(of(account, 'bench ended').gone).toBe(true)
  expect(account.at(-1)).toMatchObject({ kind: 'end', confirmed: 12, drives: 12 })
  return account
}

describe('a bench process', () => {
  it.each([
    ['killed', 'kill', 'gone'],
    ['frozen', 'freeze', 'silent'],
    ['that loops for ever', 'loop', 'silent'],
  ] as const)('%s is ended for good, and the arms are stopped', async (_, manner, cause) => {
    const run = await start()
    expect(arms.joints.some((j) => j.moving)).toBe(true)
    MANNERS[manner](run)
    const account = await stoppedByGuardian(run)
    expect(of(account, 'takeover').cause).toBe(cause)
    expect(await run.bench.exit()).toBe('SIGKILL')
  })

  it('that has not finished a tick yet is waited for, and seen when it dies', async () => {
    const run = await start({ neverTick: true })
    // Six time-outs.
    await new Promise((resolve) => setTimeout(resolve, 600))
    expect(run.bench.ended).toBeNull()
    expect(run.guarded).toBe(true)
    MANNERS.kill(run)
    const account = (await run.evidence()) as Account[]
    expect(of(account, 'takeover').cause).toBe('gone')
  })

  it('that ends with a good-bye leaves no account, and no guardian', async () => {
    const run = await start()
    run.bench.tell('end')
    expect(await run.bench.exit()).toBe(0)
    await expect.poll(() => run.guarded, { timeout: 20_000 }).toBe(false)
    await expect(run.evidence(0)).rejects.toThrow('no account')
    await arms.stopped()
  })
})

describe('half a line', () => {
  it('that the bench process left is ended first, so that the stop behind it is whole', async () => {
    const run = await start()
    const before = arms.said.length
    run.bench.tell('freeze half')
    await stoppedByGuardian(run)
    const garbled = arms.said.slice(before).filter((s) => s.trouble === 'garbled')
    expect(garbled.map((s) => s.says)).toEqual([expect.stringContaining('"t2014AB"')])
  })
})

describe('a full transmit queue', () => {
  it('is waited for: the stop goes out as soon as frames are taken again', async () => {
    let run = await start()
    for (;;) {
      arms.tell('deaf')
      run.bench.tell('freeze flood')
      await run.bench.until((said) => said.find((s) => s.full))
      // The guardian has taken over when the bench process is gone; nothing that it sends is taken.
      expect(await run.bench.exit()).toBe('SIGKILL')
      if (!run.bench.said.some((s) => s.kind === 'stop')) break
      // The bench process has missed its feedback and stopped the arms by itself: this shows nothing.
      arms.tell('hear')
      run = await start()
    }
    await new Promise((resolve) => setTimeout(resolve, 300))
    expect(arms.joints.some((j) => j.off)).toBe(false)
    arms.tell('hear')
    await arms.stopped()
    const account = (await run.evidence()) as Account[]
    expect(of(account, 'bus').says).toContain('has taken nothing')
    expect(account.at(-1)).toMatchObject({ kind: 'end', confirmed: 12 })
  })
})

describe('the guardian itself', () => {
  it('killed: the bench process stops the arms', async () => {
    const run = await start()
    process.kill(run.guardian, 'SIGKILL')
    await run.bench.until((said) => said.find((s) => s.lost))
    await arms.stopped()
    expect(await run.bench.exit()).toBe(0)
  })

  it('frozen: the same', async () => {
    const run = await start()
    process.kill(run.guardian, 'SIGSTOP')
    try {
      const { lost } = await run.bench.until((said) => said.find((s) => s.lost))
      expect(lost).toContain('no longer answers')
      await arms.stopped()
      expect(await run.bench.exit()).toBe(0)
    } finally {
      process.kill(run.guardian, 'SIGKILL')
    }
  })

  it.each(['SIGINT', 'SIGHUP'] as const)('does not heed %s', async (signal) => {
    const run = await start()
    process.kill(run.guardian, signal)
    MANNERS.kill(run)
    await stoppedByGuardian(run)
  })

  it('lets no second run on the same rig begin', async () => {
    await start()
    await expect(Run.start(arms, { buses: 'none' })).rejects.toThrow(
      /another run on this rig and these buses/,
    )
  })
})

/** The command on a run in mid-stroke; when a busy machine has stopped that run by itself meanwhile, on another one. */
async function stopRun(options: Record<string, unknown> = {}) {
  for (let again = 0; ; again++) {
    const run = await start(options)
    const result = await stop(run)
    const byItself = run.bench.said.some((s) => s.kind === 'stop' && !s.says.includes('another terminal'))
    if (!byItself || again === 5) return { run, ...result }
    await run.bench.exit()
    await expect.poll(() => run.guarded, { timeout: 20_000 }).toBe(false)
  }
}

const CONFIRMED = 'All 12 drives confirmed: without torque, and at rest.'

describe('drystroke stop', () => {
  it('has a run stop its arms, and says which drives confirmed', async () => {
    const { run, status, stdout } = await stopRun()
    expect(stdout).toContain(`${CONFIRMED}\nThe run itself stopped them.\n`)
    expect(stdout).toMatch(/^port\.swing +switch on disabled +off +at rest$/m)
    expect(status).toBe(0)
    expect(run.bench.said.find((s) => s.kind === 'stop')).toBeDefined()
    await arms.stopped()
    expect(await run.bench.exit()).toBe(0)
  })

  it('of a run that does not obey has the guardian do it', async () => {
    const { run, status, stdout } = await stopRun({ disobey: true })
    expect(stdout).toContain(`${CONFIRMED}\nThe guardian stopped them.\n`)
    expect(status).toBe(0)
    const account = await stoppedByGuardian(run)
    expect(of(account, 'takeover').cause).toBe('disobedient')
    expect(await run.bench.exit()).toBe('SIGKILL')
  })

  it('of arms that nobody guards any more opens the buses itself', async () => {
    const run = await start()
    run.bench.child.kill('SIGSTOP')
    process.kill(run.guardian, 'SIGKILL')
    run.bench.child.kill('SIGKILL')
    await run.bench.exit()
    await arms.until((said) => said.findLast((s) => s.bus === 1)?.says.includes('the other side'))
    expect(arms.joints.some((j) => j.off)).toBe(false)
    const { status, stdout } = await stop(run)
    expect(stdout).toContain(`${CONFIRMED}\nNo guardian answered: the stop was sent on the buses directly.\n`)
    expect(status).toBe(0)
    await arms.stopped()
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

  it('with one bus of two stops what it can, and is no success', async () => {
    const run = await start()
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
