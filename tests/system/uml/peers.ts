/** Independent peers on a kernel's CAN interface: can-utils, python3-can, and iproute2 for the interface itself. */
import { type ChildProcess, spawn, spawnSync } from 'node:child_process'
import { once } from 'node:events'
import { mkdtempSync, readFileSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { candumpLine } from '../../../src/wire/candump.js'
import type { Frame } from '../../../src/wire/frame.js'
import { until } from '../../setup/lines.js'

/** Ends with an error when the program does; a program that is to fail is not run by this. */
export function run(program: string, ...args: string[]): string {
  const { status, stdout, stderr, error } = spawnSync(program, args, { encoding: 'utf8', maxBuffer: 1 << 26 })
  if (status !== 0) throw new Error(`${program} ${args.join(' ')}: ${error ?? status}\n${stderr}`)
  return stdout
}

/** Raw sockets that hear everything on an interface: the kernel's own list. */
function listeners(network: string): number {
  const list = readFileSync('/proc/net/can/rcvlist_all', 'utf8')
  return list.split('\n').filter((line) => line.trim().startsWith(`${network} `)).length
}

/** candump on one interface; `lines` grow without their time stamps: `123#DEAD`, and these, in us of the wall clock, apart. */
export class Candump {
  readonly lines: string[] = []
  readonly times: number[] = []
  readonly #process: ChildProcess

  private constructor(process: ChildProcess) {
    this.#process = process
    let rest = ''
    process.stdout!.setEncoding('utf8').on('data', (text: string) => {
      const parts = (rest + text).split('\n')
      rest = parts.pop()!
      for (const line of parts) {
        const [stamp, , what] = line.split(' ')
        this.times.push(Math.round(Number(stamp!.slice(1, -1)) * 1e6))
        this.lines.push(what!)
      }
    })
  }

  /** Resolves when the kernel hands frames to it. */
  static async on(network: string): Promise<Candump> {
    const before = listeners(network)
    const process = spawn('candump', ['-L', network], { stdio: ['ignore', 'pipe', 'inherit'] })
    await until(() => listeners(network) > before)
    return new Candump(process)
  }

  /** @returns the lines, when there are so many */
  async seen(count: number): Promise<string[]> {
    await until(() => this.lines.length >= count)
    return this.lines
  }

  async end(): Promise<void> {
    const gone = once(this.#process, 'exit')
    this.#process.kill()
    await gone
  }
}

/** Sends frames as fast as it can, from a log whose bus has another name. */
export function canplayer(network: string, frames: readonly Frame[]): void {
  const log = join(mkdtempSync(join(tmpdir(), 'drystroke-canplayer-')), 'can.log')
  writeFileSync(log, frames.map((f) => `${candumpLine(0, 'port-can', f)}\n`).join(''))
  run('canplayer', '-t', '-I', log, `${network}=port-can`)
}

/**
 * A python3-can program with `bus` open on the interface; Debian's own Python.
 * @param onReady called when `bus` hears what is sent
 * @returns what it printed, as JSON
 */
export async function python(
  network: string,
  program: string,
  onReady: () => void = () => {},
): Promise<unknown> {
  const before = listeners(network)
  const child = spawn(
    '/usr/bin/python3',
    ['-c', `import can, json\nbus = can.Bus('${network}', interface='socketcan')\n${program}`],
    { stdio: ['ignore', 'pipe', 'inherit'] },
  )
  let text = ''
  child.stdout.setEncoding('utf8').on('data', (more: string) => {
    text += more
  })
  const closed = once(child, 'close') as Promise<[number]>
  await until(() => child.exitCode !== null || listeners(network) > before)
  onReady()
  const [status] = await closed
  if (status !== 0) throw new Error(`python3 ended with ${status}`)
  return text === '' ? null : JSON.parse(text)
}

/** A program for `python` that sends these frames. */
export function pythonSends(frames: readonly Frame[]): string {
  const rows = frames.map((f) => [f.id, Number(f.extended), Number(f.remote), [...f.data]])
  return `for i, x, r, d in ${JSON.stringify(rows)}:
    bus.send(can.Message(arbitration_id=i, is_extended_id=bool(x), is_remote_frame=bool(r), data=None if r else d, dlc=len(d)))`
}
