import { spawn } from 'node:child_process'
import { once } from 'node:events'
import { expect, it } from 'vitest'
import { ProcessGroup } from '../../../src/stop/process-group.js'

/** A process that starts another and says its number; both wait for ever. */
const PARENT = `
const { spawn } = require('node:child_process')
const child = spawn(process.execPath, ['-e', 'setInterval(() => {}, 1e6)'], { stdio: 'ignore' })
process.stdout.write(String(child.pid))
setInterval(() => {}, 1e6)
`

const there = (pid: number): boolean => {
  try {
    process.kill(pid, 0)
    return true
  } catch {
    return false
  }
}

async function started() {
  const first = spawn(process.execPath, ['-e', PARENT], {
    detached: true,
    stdio: ['ignore', 'pipe', 'ignore'],
  })
  const [said] = (await once(first.stdout, 'data')) as [Buffer]
  const exit = once(first, 'exit')
  return { first, second: Number(said.toString()), exit, group: new ProcessGroup(first.pid!) }
}

it('is ended with all that it has started, also while it is stopped', async () => {
  const { first, second, exit, group } = await started()
  expect(group.gone).toBe(false)
  process.kill(first.pid!, 'SIGSTOP')
  group.end()
  expect((await exit)[1]).toBe('SIGKILL')
  expect(group.gone).toBe(true)
  await expect.poll(() => there(second), { timeout: 20_000 }).toBe(false)
  group.close()
})

it('leaves nothing behind when its first process ends by itself', async () => {
  const { first, second, exit, group } = await started()
  first.kill('SIGTERM')
  await exit
  expect(there(second)).toBe(true)
  expect(group.gone).toBe(true)
  await expect.poll(() => there(second), { timeout: 20_000 }).toBe(false)
  // Again: nobody else may be met.
  group.end()
  expect(group.gone).toBe(true)
  group.close()
})
