/** A process that is listened to line by line, and the machine's clock. */
import { spawn } from 'node:child_process'
import { createInterface } from 'node:readline'

/** ns of CLOCK_MONOTONIC, the same for all processes */
export const now = () => {
  const [s, ns] = process.hrtime()
  return s * 1e9 + ns
}

export const pause = (ms) => new Promise((resolve) => setTimeout(resolve, ms))

export class Told {
  /** @type {string[]} */ out = []
  /** @type {string[]} */ err = []
  /** Exit status or the name of a signal, null: it runs. @type {number | string | null} */ ended = null
  #wake = []

  /** @param {string[]} args of node @param {(line: string) => void} [onLine] of standard output */
  constructor(args, env = {}, onLine = () => {}) {
    this.child = spawn(process.execPath, args, {
      stdio: ['ignore', 'pipe', 'pipe'],
      env: { ...process.env, ...env },
    })
    createInterface({ input: this.child.stdout }).on('line', (line) => {
      this.out.push(line)
      onLine(line)
      this.#rouse()
    })
    createInterface({ input: this.child.stderr }).on('line', (line) => {
      this.err.push(line)
      this.#rouse()
    })
    this.child.once('close', (status, signal) => {
      this.ended = signal ?? status
      this.#rouse()
    })
  }

  /**
   * Waits until `find` gives something. @throws after `s` seconds, or when the process has ended and still nothing is found
   * @template T @param {() => T} find @param {string} what for the message
   */
  async until(find, what, s = 120) {
    const end = now() + s * 1e9
    for (;;) {
      const found = find()
      if (found) return found
      const why = this.ended !== null ? `it ended (${this.ended})` : now() > end ? `not within ${s} s` : null
      if (why !== null)
        throw new Error(`${what}: ${why}\n${[...this.out.slice(-20), ...this.err].join('\n')}`)
      await new Promise((resolve) => {
        const timer = setTimeout(resolve, 5)
        this.#wake.push(() => {
          clearTimeout(timer)
          resolve(undefined)
        })
      })
    }
  }

  async exit(s = 120) {
    const end = now() + s * 1e9
    while (this.ended === null && now() < end) await pause(5)
    return this.ended
  }

  #rouse() {
    for (const wake of this.#wake.splice(0)) wake()
  }
}
