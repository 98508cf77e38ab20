/**
 * A process that was started as the first of a group of its own, with all that it has started: ended for good, and known to be.
 * A process that leaves the group escapes; nothing tells of that but what is seen on the buses.
 */
import { BenchProcess } from './guardian/bench-process.js'

export class ProcessGroup {
  readonly #first: BenchProcess
  readonly #pid: number
  #swept = false

  /** @param pid of the first process, while it lives */
  constructor(pid: number) {
    this.#pid = pid
    this.#first = new BenchProcess(pid)
  }

  /** SIGKILL to all of the group: it also ends processes that are stopped (signal(7)). */
  end(): void {
    if (this.#swept) return
    try {
      process.kill(-this.#pid, 'SIGKILL')
    } catch {
      // ESRCH: it has ended by itself.
    }
  }

  /** The first process is gone; what it may have left behind has been ended with it. */
  get gone(): boolean {
    if (!this.#first.gone) return false
    // The number stays the group's as long as anybody is left in it: this once it cannot meet another.
    this.end()
    this.#swept = true
    return true
  }

  close(): void {
    this.#first.close()
  }
}
