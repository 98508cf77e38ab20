/**
 * One kill: arms in one process, bench and guardian in two more; at a phase of the stroke the bench process is killed, frozen
 * or made to loop, and an eye beside the arms sees when the last joint comes to rest and the last drive gives no torque. All
 * times are of CLOCK_MONOTONIC, ns.
 */
import { spawn } from 'node:child_process'
import { existsSync, mkdtempSync, readFileSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { createInterface } from 'node:readline'
import { fileURLToPath } from 'node:url'
import { slowRigText } from './slow-rig.mjs'

const here = (name) => fileURLToPath(new URL(name, import.meta.url))
const root = new URL('../../../', import.meta.url)
const BASE = [0, 0]
const OFF = new Set(['switch on disabled', 'ready to switch on', 'switched on', 'fault'])

export const now = () => {
  const [s, ns] = process.hrtime()
  return s * 1e9 + ns
}

/** Strokes as fast as the demo's arms bear, from the first moment on. */
export const SCENARIO = `name: kill
about: Both sides pull ahead until the bench process is killed.
duration: "60 s"
commands:
  - { at: "0 s", surge: "0.45 m/s", yaw: "0 deg/s", over: "0.3 s" }
expect:
  outcome: finish
  strokes: [{ arm: port, direction: ahead, least: 1 }]
  parked: true
`

/**
 * The demo's rig on other buses. The drives do not stop by themselves, so that nothing but the guardian does it; the sag
 * window is short, so that hundreds of kills do not take hours.
 *
 * `patient`: for tests that are not about times: nobody minds what a machine with too much to do makes late.
 */
export function rigText(
  addresses,
  { watchdog = false, sagWindow = '0.1 s', slow = false, guardian = '100 ms', patient = false } = {},
) {
  let bus = 0
  const text = readFileSync(new URL('rigs/reservoir-skiff.yaml', root), 'utf8')
    .replace(/address: mock/g, () => `address: ${addresses[bus++]}`)
    .replace('watchdog: true', `watchdog: ${watchdog}`)
    .replace('sag-window: "2 s"', `sag-window: "${sagWindow}"`)
  if (patient) return patientRigText(text)
  const rig = text.replace('approach: "15 %"', 'approach: "60 %"')
  return slow ? slowRigText(rig, guardian) : rig
}

function patientRigText(text) {
  return `${text
    .replace('rate: "200 Hz"', 'rate: "50 Hz"')
    .replace('speed-cap: "100 %"', 'speed-cap: "20 %"')
    .replace('window: "10 deg"', 'window: "90 deg"')
    .replace('patience: "2 s"', 'patience: "20 s"')
    .replace('sag-window:', 'answer: "1 s"\n  sag-window:')
    .replace(/stale-after: .*/, 'stale-after: "1 s"\n  reply-within: "200 ms"')
    .replace(/heartbeat-timeout: .*/, 'heartbeat-timeout: "2 s"')
    .replace(
      /^watch: .*/m,
      'watch: { bus: { period: "1000 %", lost: "100 %", doubled: "100 %" }, silence: { periods: 40, heartbeats: 20 }, tracking: { window: "90 deg", timeout: "2 s" } }',
    )}
guardian: { timeout: "500 ms" }
realtime: { late: "100 ms", most-late: 1000 }
`
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

/** Arms, and how their buses are reached. @param bus `tcp`, or interface names such as `vcan0,vcan1` */
export class Arms extends Talker {
  static async start(bus = 'tcp', settings = {}) {
    const names = bus === 'tcp' ? null : bus.split(',').map((name) => `socketcan:${name}`)
    // Interfaces are those of user-mode Linux: one slow processor.
    const given = { slow: names !== null, ...settings }
    const arms = new Arms('arms.mjs', {
      rigText: rigText(names ?? ['slcan:tcp:127.0.0.1:1', 'slcan:tcp:127.0.0.1:2'], given),
      base: BASE,
    })
    const { ports } = await arms.until((said) => said.find((s) => s.ports))
    arms.rigText = rigText(names ?? ports.map((port) => `slcan:tcp:127.0.0.1:${port}`), given)
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

/** A busy machine stopped the run before anything was killed: it says nothing of the guardian. */
export class TooLate extends Error {}

/** A folder, bench process and guardian in mid-stroke. */
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

  /** @param scenarioTime s of the scenario; null: as soon as the arms move */
  async #start(arms, { scenarioTime = null, ...options }) {
    this.arms = arms
    this.folder = mkdtempSync(join(tmpdir(), 'drystroke-kill-'))
    this.rigText = arms.rigText
    this.bench = new Talker('bench.mjs', {
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
    if (scenarioTime === null) {
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
    const zero = await this.bench.until((said) => {
      this.#refuseStopped()
      return said.find((s) => s.kind === 'stage' && s.stage === 'play')
    })
    while (now() < zero.t + scenarioTime * 1e9) await new Promise((resolve) => setTimeout(resolve, 1))
    this.#refuseStopped()
    return this
  }

  #refuseStopped() {
    const wrong = this.bench.said.find((s) => s.kind === 'stop' || s.kind === 'refusal')
    if (wrong) throw new TooLate(`stopped before the kill: ${JSON.stringify(wrong)}`)
    if (this.bench.ended === 'SIGKILL') throw new TooLate('the guardian took over before the kill')
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

export const MANNERS = {
  kill: (run) => run.bench.child.kill('SIGKILL'),
  freeze: (run) => run.bench.child.kill('SIGSTOP'),
  loop: (run) => run.bench.tell('loop'),
}

/** @returns what one kill came to; times in ms from the kill */
export async function trial(arms, manner, scenarioTime) {
  const run = await Run.start(arms, { scenarioTime })
  try {
    const moving = arms.joints.filter((j) => j.moving).length
    const t0 = now()
    MANNERS[manner](run)
    const { still, off } = await arms.stopped()
    const wrong = run.bench.said.find((s) => s.kind === 'stop')
    if (wrong) throw new TooLate(`stopped before the kill: ${JSON.stringify(wrong)}`)
    const account = await run.evidence()
    const takeover = account.find((e) => e.kind === 'takeover')
    const ended = account.find((e) => e.kind === 'bench ended')
    const stop = account.find((e) => e.kind === 'stop')
    const end = account.at(-1)
    const ms = (t) => (t - t0) / 1e6
    return {
      manner,
      scenarioTime,
      moving,
      fifo: run.fifo,
      cause: takeover.cause,
      gone: ended.gone,
      benchEnded: await run.bench.exit(),
      detected: ms(takeover.t),
      stopSent: ms(stop.t),
      still: ms(still),
      off: ms(off),
      confirmed: end.confirmed,
      drives: end.drives,
      seenStill: end.still === null ? null : ms(end.still),
    }
  } finally {
    await run.end()
  }
}
