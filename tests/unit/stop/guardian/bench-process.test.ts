/** A process is ended for good and known to be: running, stopped, a zombie, gone, and when its number is another's. */
import { type ChildProcess, spawn } from 'node:child_process'
import { readFileSync } from 'node:fs'
import { afterEach, describe, expect, it } from 'vitest'
import { BenchProcess } from '../../../../src/stop/guardian/bench-process.js'

const children: ChildProcess[] = []
afterEach(() => {
  for (const child of children.splice(0)) child.kill('SIGKILL')
})

function start(...command: string[]): ChildProcess {
  const [program, ...args] = command
  const child = spawn(program!, args, { stdio: ['ignore', 'pipe', 'ignore'] })
  children.push(child)
  return child
}

async function until(done: () => boolean): Promise<void> {
  while (!done()) await new Promise((resolve) => setTimeout(resolve, 1))
}

const stateOf = (pid: number): string => /\) (\S)/.exec(readFileSync(`/proc/${pid}/stat`, 'utf8'))![1]!

describe('a process', () => {
  it('that runs is not gone, and is after it was ended', async () => {
    const child = start('sleep', '600')
    const found = new BenchProcess(child.pid!)
    expect(found.gone).toBe(false)
    found.end()
    await until(() => found.gone)
    await until(() => child.exitCode !== null || child.signalCode !== null)
    expect(child.signalCode).toBe('SIGKILL')
    expect(found.gone).toBe(true)
    found.close()
  })

  it('that is stopped is ended too', async () => {
    const child = start('sleep', '600')
    child.kill('SIGSTOP')
    await until(() => stateOf(child.pid!) === 'T')
    const found = new BenchProcess(child.pid!)
    expect(found.gone).toBe(false)
    found.end()
    await until(() => found.gone)
    found.close()
  })

  it('that is a zombie is gone, although its number still answers', async () => {
    // The shell becomes a sleep that never asks for what became of its child.
    const parent = start('sh', '-c', 'sleep 600 & echo $!; exec sleep 600')
    const pid = await new Promise<number>((resolve) => {
      parent.stdout!.once('data', (text) => resolve(Number(text)))
    })
    await until(() => readFileSync(`/proc/${parent.pid}/comm`, 'utf8') === 'sleep\n')
    const found = new BenchProcess(pid)
    expect(found.gone).toBe(false)
    found.end()
    await until(() => stateOf(pid) === 'Z')
    expect(() => process.kill(pid, 0)).not.toThrow()
    expect(found.gone).toBe(true)
    found.close()
  })

  it('with a name that looks like an account of its own is read right', async () => {
    const child = start('bash', '-c', 'printf "x) Z 1 (" > /proc/self/comm; echo; read -r < <(sleep 600)')
    await new Promise((resolve) => child.stdout!.once('data', resolve))
    expect(readFileSync(`/proc/${child.pid}/stat`, 'utf8')).toContain('(x) Z 1 () ')
    const found = new BenchProcess(child.pid!)
    expect(found.gone).toBe(false)
    found.end()
    await until(() => found.gone)
    found.close()
  })

  it('that is long gone is never signalled: its number may be another process', async () => {
    const child = start('sleep', '600')
    const found = new BenchProcess(child.pid!)
    child.kill('SIGKILL')
    await until(() => child.signalCode !== null)
    const signals: unknown[] = []
    const { kill } = process
    process.kill = (...args) => {
      signals.push(args)
      return true
    }
    try {
      found.end()
    } finally {
      process.kill = kill
    }
    expect(signals).toEqual([])
    expect(found.gone).toBe(true)
    found.close()
  })
})
