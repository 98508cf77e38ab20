/**
 * Arms in one process, a bench process reduced to what the guardian is about in a second one, its guardian in a third: for
 * what no real bench process can be brought to do, such as never to finish a tick. What becomes of the real one is shown by
 * trial.mjs. All times are of CLOCK_MONOTONIC, ns.
 */
import { spawn } from 'node:child_process'
import { existsSync, mkdtempSync, readFileSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { createInterface } from 'node:readline'
import { fileURLToPath } from 'node:url'
import { rigText, SCENARIO } from './kill-rig.mjs'

const here = (name) => fileURLToPath(new URL(name, import.meta.url))
const BASE = [0, 0]
const OFF = new Set(['switch on disabled', 'ready to switch on', 'switched on', 'fault'])

export const now = () => {
  const [s, ns] = process.hrtime()
  return s * 1e9 + ns
}

/** A process that says a JSON value a line. */
export class Talker {
  /** @type {any[]} */ said = []
  ended = null
  errors = ''
  #wake = []

  constructor(program, job) {
    this.child = spawn(process.execPath, [here(program), JSON.stringify(job)], {
      stdio: ['pipe', 'pipe', 'pipe'],
    })
    this.child.stdin.on('error', () => {})
    this.child.stderr.on('data', (bytes) => {
      this.errors += bytes
    })
    createInterface({ input: this.child.stdout }).on('line', (line) => {
      this.said.push(JSON.parse(line))
      this.#rouse()
    })
    this.child.once('exit', (status, signal) => {
      this.ended = signal ?? status
      this.#rouse()
    })
  }

  tell(order) {
    this.child.stdin.write(`${order}\n`)
  }

  /**
   * Waits until `find` gives something of what was said. @throws when the process ends before, or after `s` seconds
   * @param {(said: any[]) => any} find
   */
  async until(find, s = 120) {
    const end = now() + s * 1e9
    for (;;) {
      const found = find(this.said)
      if (found) return found
      if (this.ended !== null)
        throw new Error(
          `ended (${this.ended}) before: ${find}\n${JSON.stringify(this.said.slice(-20))}\n${this.errors}`,
        )
      if (now() > end)
        throw new Error(`not within ${s} s: ${find}\n${JSON.stringify(this.said.slice(-20))}\n${this.errors}`)
      await new Promise((resolve) => {
        this.#wake.push(resolve)
        const timer = setTimeout(resolve, 50)
        this.#wake.push(() => clearTimeout(timer))
      })
    }
  }

  async exit(s = 120) {
    const end = now() + s * 1e9
    while (this.ended === null && now() < end) await new Promise((resolve) => setTimeout(resolve, 5))
    return this.ended
  }

  end() {
    this.child.stdin.end()
    if (this.ended === null) this.child.kill('SIGKILL')
  }

  #rouse() {
    for (const resolve of this.#wake.splice(0)) resolve()
  }
}

/** Arms, and how their buses are reached. */
export class Arms extends Talker {
  static async start(settings = {}) {
    const arms = new Arms('reduced-arms.mjs', {
      rigText: rigText(['slcan:tcp:127.0.0.1:1', 'slcan:tcp:127.0.0.1:2'], settings),
      base: BASE,
    })
    const { ports } = await arms.until((said) => said.find((s) => s.ports))
    arms.rigText = rigText(
      ports.map((port) => `slcan:tcp:127.0.0.1:${port}`),
      settings,
    )
    return arms
  }

  /** By joint: whether it moves and since when, and its drive's state and since when, of what was said up to now. */
  get joints() {
    const joints = []
    for (const s of this.said) {
      if (s.joint === undefined) continue
      joints[s.joint] ??= { moving: true, since: 0, off: false, offSince: 0 }
      const j = joints[s.joint]
      if (s.moving !== undefined) {
        j.moving = s.moving
        j.since = s.since
      } else {
        const off = OFF.has(s.state)
        if (off !== j.off) j.offSince = s.t
        j.off = off
      }
    }
    return joints
  }

  /** All at rest and without torque. @returns when the last came to rest, and the last lost its torque */
  async stopped(s = 120) {
    return this.until(() => {
      const { joints } = this
      if (joints.length !== 12 || joints.some((j) => j === undefined || j.moving || !j.off)) return null
      return {
        still: Math.max(...joints.map((j) => j.since)),
        off: Math.max(...joints.map((j) => j.offSince)),
      }
    }, s)
  }
}

/** A folder, bench process and guardian, with arms that move. */
export class Run {
  /** @type {Arms} */ arms
  /** @type {Talker} */ bench
  /** @type {string} */ folder
  /** @type {number} of the guardian */ guardian
  /** @type {boolean} */ fifo

  static async start(arms, options = {}) {
    const run = new Run()
    try {
      return await run.#start(arms, options)
    } catch (error) {
      await run.end()
      throw error
    }
  }

  async #start(arms, options) {
    this.arms = arms
    this.folder = mkdtempSync(join(tmpdir(), 'drystroke-kill-'))
    this.rigText = arms.rigText
    this.bench = new Talker('reduced-bench.mjs', {
      rigText: arms.rigText,
      scenarioText: SCENARIO,
      base: BASE,
      folder: this.folder,
      ...options,
    })
    const { guardian, fifo } = await this.bench.until((said) => said.find((s) => s.guardian))
    this.guardian = guardian
    this.fifo = fifo
    if (options.neverTick) return this
    const approach = await this.bench.until((said) => {
      this.#refuseStopped()
      return said.find((s) => s.kind === 'stage' && s.stage === 'approach')
    })
    await arms.until((said) => {
      this.#refuseStopped()
      return said.find((s) => s.moving && s.since >= approach.t)
    })
    return this
  }

  #refuseStopped() {
    const wrong = this.bench.said.find((s) => s.kind === 'stop' || s.kind === 'refusal')
    if (wrong) throw new Error(`stopped before the kill: ${JSON.stringify(wrong)}`)
    if (this.bench.ended === 'SIGKILL') throw new Error('the guardian took over before the kill')
  }

  /** The guardian's account. */
  async evidence(s = 120) {
    const path = join(this.folder, 'guardian.jsonl')
    const end = now() + s * 1e9
    while (!existsSync(path)) {
      if (now() > end) throw new Error(`the guardian wrote no account within ${s} s`)
      await new Promise((resolve) => setTimeout(resolve, 5))
    }
    return readFileSync(path, 'utf8')
      .trim()
      .split('\n')
      .map((line) => JSON.parse(line))
  }

  /** Whether the guardian is there. */
  get guarded() {
    try {
      process.kill(this.guardian, 0)
      return true
    } catch {
      return false
    }
  }

  async end() {
    this.bench.end()
    await this.bench.exit()
    // Whatever went wrong, nothing of this run shall stay.
    for (const until = now() + 10e9; this.guarded && now() < until; )
      await new Promise((r) => setTimeout(r, 10))
    if (this.guarded) process.kill(this.guardian, 'SIGKILL')
    rmSync(this.folder, { recursive: true, force: true })
  }
}
