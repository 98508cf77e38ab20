/**
 * A driver that is a child process: messages are lines on its standard input and output, what it writes to standard error is
 * for people.
 *
 * It leads a process group of its own: a key on the terminal does not reach it, and whatever it starts is ended with it. Should
 * this process die, however that comes about, a little shell that holds the other end of a pipe sees the pipe close and ends
 * the group.
 */
import { type ChildProcess, type SpawnOptions, spawn } from 'node:child_process'
import type { Socket } from 'node:net'
import type { later } from '../../clock.js'
import { Lines } from './lines.js'
import { LONGEST_MESSAGE, MOST_WAITING, type Way, type WayListener } from './messages.js'

/** ms until a driver that was told that it is over is ended, and again until it is killed. */
const GRACE = 1000
/** ms in which what an ended process wrote last may still come. */
const LAST_WORDS = 30
/** Characters of a line for people. */
const LONGEST_WORDS = 2000
/**
 * Waits for the end of its standard input; a line, which is a good-bye, comes only when the group has ended. Not every shell takes a
 * name of a signal and a group together.
 */
const WARDEN = 'read -r _ || kill -9 "-$1"'

export interface ProcessRequest {
  readonly run: readonly [string, ...string[]]
  /** In which it runs. */
  readonly folder: string
  readonly listener: WayListener
  readonly later: typeof later
}

/** @throws what spawn throws; that there is no such program is told by `onLost` */
export class ProcessWay implements Way {
  readonly place: string
  readonly #p: ProcessRequest
  readonly #child: ChildProcess
  readonly #warden: ChildProcess | null
  readonly #lines: Lines
  readonly #gone: Promise<void>
  #open = true
  #listening = true

  constructor(request: ProcessRequest) {
    this.#p = request
    const [program, ...rest] = request.run
    this.place = request.run.join(' ')
    const options: SpawnOptions = { cwd: request.folder, stdio: ['pipe', 'pipe', 'pipe'], detached: true }
    const child = spawn(program, rest, options)
    this.#child = child
    this.#warden = child.pid === undefined ? null : warden(child.pid)
    this.#lines = new Lines(
      LONGEST_MESSAGE,
      (line) => this.#tell(() => request.listener.onMessage(line)),
      (beginning) =>
        this.#lose('rubbish', `a line longer than ${LONGEST_MESSAGE} bytes came: ${beginning}...`),
    )
    const words = new Lines(
      LONGEST_WORDS,
      (line) => this.#tell(() => request.listener.onSaid(line)),
      (beginning) => this.#tell(() => request.listener.onSaid(`${beginning}...`)),
    )
    child.stdout!.on('data', (bytes: Uint8Array) => this.#lines.take(bytes))
    child.stderr!.on('data', (bytes: Uint8Array) => words.take(bytes))
    // That nobody reads any more is told by the end of the process.
    child.stdin!.on('error', () => {})
    this.#gone = new Promise((resolve) => {
      child.on('error', (error: NodeJS.ErrnoException) => {
        this.#lose('lost', `it cannot be started in ${request.folder} (${error.code ?? error.message})`)
        if (child.pid === undefined) resolve()
      })
      child.on('exit', (status, signal) => {
        const how = signal === null ? `it ended with status ${status}` : `it was ended by ${signal}`
        const tell = (): void => this.#lose('lost', how)
        // Its last words come by another pipe, and may come later.
        child.on('close', tell)
        request.later(LAST_WORDS, tell)
        resolve()
      })
    })
  }

  get pid(): number | null {
    return this.#child.pid ?? null
  }

  get open(): boolean {
    return this.#open
  }

  send(text: string): void {
    if (!this.#open) return
    const { stdin } = this.#child
    if (stdin!.writableLength > MOST_WAITING) this.#lose('stalled', 'it does not read what is sent to it')
    else if (stdin!.writable) stdin!.write(`${text}\n`)
  }

  deafen(): void {
    this.#lines.stop()
    this.#child.stdout!.destroy()
  }

  async close(last: readonly string[]): Promise<void> {
    const { stdin } = this.#child
    for (const text of last) this.send(text)
    this.#open = this.#listening = false
    stdin!.end()
    const stale = [
      this.#p.later(GRACE, () => this.#signal('SIGTERM')),
      this.#p.later(2 * GRACE, () => this.#signal('SIGKILL')),
    ]
    await this.#gone
    for (const takeBack of stale) takeBack()
    // Whatever it started and left behind.
    this.#signal('SIGKILL')
    this.#letGo()
  }

  abandon(): void {
    this.#open = this.#listening = false
    this.#signal('SIGKILL')
    this.#letGo()
  }

  #letGo(): void {
    const { stdin, stdout, stderr } = this.#child
    for (const stream of [stdin, stdout, stderr]) stream!.destroy()
    this.#child.unref()
    this.#warden?.stdin?.end('over\n')
  }

  /** To its whole group. */
  #signal(name: NodeJS.Signals): void {
    if (this.pid === null) return
    try {
      process.kill(-this.pid, name)
    } catch {
      // Nobody of it is left.
    }
  }

  #tell(what: () => void): void {
    if (this.#listening) what()
  }

  #lose(...[trouble, says]: Parameters<WayListener['onLost']>): void {
    if (!this.#open) return
    this.#open = false
    this.#tell(() => this.#p.listener.onLost(trouble, says))
  }
}

/** Of its own session as well: who ends the bench and all that belongs to it must not end this first. */
function warden(group: number): ChildProcess {
  const shell = spawn('/bin/sh', ['-c', WARDEN, 'warden', String(group)], {
    stdio: ['pipe', 'ignore', 'ignore'],
    detached: true,
  })
  shell.on('error', () => {})
  shell.stdin!.on('error', () => {})
  shell.unref()
  ;(shell.stdin as Socket).unref()
  return shell
}
