/**
 * The bench process as the guardian sees it: ended for good, and known to be. The kernel's account of it is opened while it
 * lives and only read later: it stays that process's own, whoever gets its number after it, and nothing has to be opened
 * when it matters.
 */
import { closeSync, openSync, readSync } from 'node:fs'

/** Of /proc/PID/stat (proc_pid_stat(5)), behind the name in parentheses: field 3 comes first. */
const STATE = 3 - 3
const THREADS = 20 - 3

export class BenchProcess {
  readonly pid: number
  readonly #account: number | null
  readonly #bytes = Buffer.alloc(1024)

  constructor(pid: number) {
    this.pid = pid
    let account: number | null = null
    try {
      account = openSync(`/proc/${pid}/stat`, 'r')
    } catch {
      // A system without /proc: whether it is gone shows only by its number.
    }
    this.#account = account
  }

  /**
   * SIGKILL also ends a process that is stopped (signal(7)). It is sent only while the process is known to be there, so that
   * it never meets another.
   */
  end(): void {
    if (this.gone) return
    try {
      process.kill(this.pid, 'SIGKILL')
    } catch {
      // It went in between; or it is not ours to kill, and then `gone` goes on saying so.
    }
  }

  /** Nothing of it can run any more: it is a zombie without threads, or no process at all. */
  get gone(): boolean {
    if (this.#account === null) return !answers(this.pid)
    let length: number
    try {
      length = readSync(this.#account, this.#bytes, 0, this.#bytes.length, 0)
    } catch {
      // ESRCH: there is nobody whose account this would be.
      return true
    }
    const text = this.#bytes.toString('latin1', 0, length)
    const fields = text.slice(text.lastIndexOf(')') + 2).split(' ')
    const state = fields[STATE]
    // The first thread can be a zombie while others have not ended yet.
    return (state === 'Z' || state === 'X') && Number(fields[THREADS]) <= 1
  }

  close(): void {
    if (this.#account !== null) closeSync(this.#account)
  }
}

function answers(pid: number): boolean {
  try {
    process.kill(pid, 0)
    return true
  } catch (error) {
    return (error as NodeJS.ErrnoException).code === 'EPERM'
  }
}
