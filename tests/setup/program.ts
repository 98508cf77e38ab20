/** Another process, Drystroke as a rule, and what it writes, line by line. */
import { type ChildProcessWithoutNullStreams, spawn } from 'node:child_process'
import { createServer } from 'node:net'
import { createInterface } from 'node:readline'

const MAIN = new URL('../../dist/cli/main.js', import.meta.url).pathname

export class AnyProgram {
  readonly process: ChildProcessWithoutNullStreams
  /** Lines of standard output and standard error so far. */
  readonly out: string[] = []
  readonly err: string[] = []
  readonly #ended: Promise<number | null>
  #wake: () => void = () => {}

  constructor(program: string, args: readonly string[]) {
    this.process = spawn(program, args, { stdio: 'pipe' })
    for (const [stream, lines] of [
      [this.process.stdout, this.out],
      [this.process.stderr, this.err],
    ] as const) {
      createInterface({ input: stream }).on('line', (line) => {
        lines.push(line)
        this.#wake()
      })
    }
    this.#ended = new Promise((resolve) => {
      this.process.on('close', (status) => {
        resolve(status)
        this.#wake()
      })
    })
  }

  /** The first line of either stream that matches, now or later. @throws when the program ends before */
  async line(pattern: RegExp): Promise<string> {
    for (;;) {
      const found = [...this.out, ...this.err].find((l) => pattern.test(l))
      if (found !== undefined) return found
      if (this.process.exitCode !== null || this.process.signalCode !== null)
        throw new Error(`no line ${pattern}, but:\n${[...this.out, ...this.err].join('\n')}`)
      await new Promise<void>((resolve) => {
        this.#wake = resolve
      })
    }
  }

  /** Until it says more. @throws when it has ended */
  async more(): Promise<void> {
    if (this.process.exitCode !== null || this.process.signalCode !== null)
      throw new Error(`it has ended:\n${[...this.out, ...this.err].join('\n')}`)
    await new Promise<void>((resolve) => {
      this.#wake = resolve
    })
  }

  type(line: string): void {
    this.process.stdin.write(`${line}\n`)
  }

  /** Exit status once it has ended. */
  ended(): Promise<number | null> {
    return this.#ended
  }

  /** Ends it if it still runs. */
  async end(signal: NodeJS.Signals = 'SIGTERM'): Promise<number | null> {
    if (this.process.exitCode === null) this.process.kill(signal)
    return this.#ended
  }
}

export class Program extends AnyProgram {
  /** @param args of the command line */
  constructor(...args: string[]) {
    super(process.execPath, [MAIN, ...args])
  }
}

/** TCP ports of the loopback that were free a moment ago. */
export async function freePorts(count: number): Promise<number[]> {
  const servers = await Promise.all(
    Array.from({ length: count }, () => {
      const server = createServer()
      return new Promise<typeof server>((resolve) => server.listen(0, '127.0.0.1', () => resolve(server)))
    }),
  )
  return Promise.all(
    servers.map((server) => {
      const address = server.address()
      const port = typeof address === 'object' && address !== null ? address.port : 0
      return new Promise<number>((resolve) => server.close(() => resolve(port)))
    }),
  )
}
