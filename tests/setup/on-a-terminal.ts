/** Drystroke on a terminal of its own (Python's pty), and a person's keys. */
import { fileURLToPath } from 'node:url'
import { AnyProgram } from './program.js'

const MAIN = fileURLToPath(new URL('../../dist/cli/main.js', import.meta.url))
const HELPER = fileURLToPath(new URL('../system/terminal.py', import.meta.url))

interface Told {
  readonly shown?: string
  readonly status?: number
  readonly raw?: boolean
  readonly restored?: boolean
}

export class OnATerminal {
  readonly program: AnyProgram

  /** @param args of the command line */
  constructor(...args: string[]) {
    this.program = new AnyProgram('python3', [HELPER, process.execPath, MAIN, ...args])
  }

  /** All that the terminal was sent so far, and its errors. */
  get shown(): string {
    return [...this.#told().map((t) => t.shown ?? ''), ...this.program.err].join('')
  }

  /** Until more is shown. @throws when it has ended */
  more(): Promise<void> {
    return this.program.more()
  }

  /** Keys, one after another. */
  type(text: string): void {
    this.program.type(`type ${hex(text)}`)
  }

  hold(key: string): void {
    this.program.type(`hold ${hex(key)}`)
  }

  release(): void {
    this.program.type('release')
  }

  async ended(): Promise<Required<Omit<Told, 'shown'>>> {
    await this.program.ended()
    return this.#told().at(-1) as Required<Omit<Told, 'shown'>>
  }

  #told(): Told[] {
    return this.program.out.map((line) => JSON.parse(line) as Told)
  }
}

function hex(text: string): string {
  return Buffer.from(text, 'utf8').toString('hex')
}
