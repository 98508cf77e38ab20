/**
 * The bench process of `drystroke run` killed or frozen in mid-stroke, with the arms of `drystroke stand-in` in another process
 * that do not stop by themselves: the guardian stops them, over TCP lines that it inherited, and the run that
 * is over waits for its account. Whether they rest is the arms' own word.
 */
import { readFileSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { describe, expect, it, type TestContext, vi } from 'vitest'
import type { GuardianEvent } from '../../src/files/guardian-event.js'
import type { Verdict } from '../../src/verdict/verdict.js'
import { until } from '../setup/lines.js'
import { freePorts, Program } from '../setup/program.js'
import { temporaryFolder } from '../setup/runs.js'
import { rigText, SCENARIO } from './guardian/trial.mjs'

vi.setConfig({ testTimeout: 300_000, hookTimeout: 300_000 })

interface Motion {
  what: string
  joint: string
  /** ns of CLOCK_MONOTONIC */
  since: string
}

class Bench {
  readonly folder: string
  readonly run: Program
  readonly #arms: Program

  static async start(test: TestContext, addresses: readonly string[]): Promise<Bench> {
    const work = temporaryFolder()
    const write = (name: string, text: string): string => {
      writeFileSync(join(work, name), text)
      return join(work, name)
    }
    const orders = join(work, 'arms.sock')
    const served = write('arms.yaml', rigText(addresses, { patient: true }))
    const arms = new Program('stand-in', '--rig', served, '--orders', orders, '--json')
    test.onTestFinished(() => void arms.end('SIGKILL'))
    await arms.line(/"serving"/)
    const run = new Program(
      ...[
        'run',
        write('kill.yaml', SCENARIO),
        '--rig',
        write('rig.yaml', rigText(addresses, { patient: true })),
      ],
      ...['--stand-in', orders, '--out', join(work, 'out')],
    )
    test.onTestFinished(() => void run.end('SIGTERM'))
    return new Bench(arms, run, join(work, 'out', 'kill'))
  }

  private constructor(arms: Program, run: Program, folder: string) {
    this.#arms = arms
    this.run = run
    this.folder = folder
  }

  /** What moves by its own truth, now. */
  get moving(): Set<string> {
    const moving = new Set<string>()
    for (const line of this.#arms.out) {
      const { what, joint } = JSON.parse(line) as Motion
      if (what === 'moves') moving.add(joint)
      else if (what === 'rests') moving.delete(joint)
    }
    return moving
  }

  async inMidStroke(): Promise<void> {
    await until(() => this.run.process.exitCode !== null || (this.#played() && this.moving.size > 0))
    expect({ status: this.run.process.exitCode, errors: this.run.err }).toMatchObject({ status: null })
  }

  /** The command's only child. */
  get pid(): number {
    const { pid } = this.run.process
    const children = readFileSync(`/proc/${pid}/task/${pid}/children`, 'utf8').trim().split(' ')
    expect(children).toHaveLength(1)
    return Number(children[0])
  }

  get verdict(): Verdict {
    return JSON.parse(readFileSync(join(this.folder, 'verdict.json'), 'utf8')) as Verdict
  }

  get account(): GuardianEvent[] {
    const lines = readFileSync(join(this.folder, 'guardian.jsonl'), 'utf8').trim().split('\n')
    return lines.map((line) => JSON.parse(line) as GuardianEvent)
  }

  #played(): boolean {
    try {
      return readFileSync(join(this.folder, 'events.jsonl'), 'utf8').includes('"kind":"command"')
    } catch {
      return false
    }
  }
}

async function stoppedByGuardian(bench: Bench, signal: 'SIGKILL' | 'SIGSTOP', cause: string): Promise<void> {
  await bench.inMidStroke()
  process.kill(bench.pid, signal)
  expect(await bench.run.ended()).toBe(4)
  expect(bench.account[0]).toMatchObject({ kind: 'takeover', cause })
  expect(bench.account).toContainEqual(expect.objectContaining({ kind: 'bench ended', gone: true }))
  expect(bench.account.at(-1)).toMatchObject({ kind: 'end', confirmed: 12, drives: 12 })
  expect(bench.verdict).toMatchObject({ outcome: 'incomplete', ended: 'cut short' })
  expect(bench.verdict.sentence).toMatch(
    /The guardian stopped the arms, because .*; 12 of 12 drives confirmed/,
  )
  await until(() => bench.moving.size === 0)
}

describe.for([
  ['killed', 'SIGKILL', 'gone'],
  ['frozen', 'SIGSTOP', 'silent'],
] as const)('a bench process that is %s', ([, signal, cause]) => {
  it.concurrent('over TCP', async (test) => {
    const ports = await freePorts(2)
    const bench = await Bench.start(
      test,
      ports.map((port) => `slcan:tcp:127.0.0.1:${port}`),
    )
    await stoppedByGuardian(bench, signal, cause)
  })
})
