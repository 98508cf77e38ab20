/** The arms of a kill: `drystroke stand-in` in a process of its own, and what it says its joints truly do. */
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { fileURLToPath } from 'node:url'
import { rigText } from './kill-rig.mjs'
import { Told } from './told.mjs'
import { wires } from './wires.mjs'

export const MAIN = fileURLToPath(new URL('../../../dist/cli/main.js', import.meta.url))
export const preloaded = (name) => ({ NODE_OPTIONS: `--import=${new URL(name, import.meta.url)}` })

export class KillArms {
  /** @type {Map<string, { moving: boolean, moved: number, powered: boolean, switched: number }>} by joint; times in ns */
  joints = new Map()
  /** What a bus of theirs found wrong. @type {{ trouble: string | null, says: string }[]} */
  reports = []
  #serving = false
  #kind = false
  #runOn = false

  /** @param {string} bus see `wires` @param {object} settings see `rigText`; `kind`: the arms always hold the last setpoint */
  static async start(bus, { kind = false, ...settings } = {}) {
    const arms = new KillArms()
    arms.#kind = kind
    arms.work = mkdtempSync(join(tmpdir(), 'drystroke-kill-'))
    try {
      arms.wires = await wires(bus, arms.work)
      const rig = (name, addresses) => {
        const file = join(arms.work, name)
        // Interfaces are those of user-mode Linux: one slow processor.
        writeFileSync(file, rigText(addresses, { slow: bus !== 'tcp' && bus !== 'pty', ...settings }))
        return file
      }
      arms.rigFile = rig('rig.yaml', arms.wires.run)
      arms.orders = join(arms.work, 'arms.sock')
      const command = [
        'stand-in',
        '--rig',
        rig('arms.yaml', arms.wires.arms),
        '--orders',
        arms.orders,
        '--json',
      ]
      arms.process = new Told([MAIN, ...command], preloaded('run-on.mjs'), (line) =>
        arms.#hear(JSON.parse(line)),
      )
      await arms.process.until(() => arms.#serving, 'the arms are served')
      return arms
    } catch (error) {
      await arms.end()
      throw error
    }
  }

  get moving() {
    return [...this.joints.values()].filter((j) => j.moving).length
  }

  get powered() {
    return [...this.joints.values()].filter((j) => j.powered).length
  }

  /** All at rest and without power. @returns when the last came to rest, and the last lost its power */
  async stopped(s = 120) {
    await this.process.until(
      () => this.joints.size === 12 && this.moving === 0 && this.powered === 0,
      'arms at rest and without power',
      s,
    )
    const all = [...this.joints.values()]
    return { still: Math.max(...all.map((j) => j.moved)), off: Math.max(...all.map((j) => j.switched)) }
  }

  /** From now on, what gets no setpoint runs on at the speed that it had. A machine that is late must not do that to a run. */
  runOn(on) {
    if (this.#kind || on === this.#runOn) return
    this.#runOn = on
    this.process.child.kill('SIGPWR')
  }

  /** Nothing more is taken from the lines, or it is again. */
  block(on) {
    const { between } = this.wires
    if (between) for (const pid of between) process.kill(pid, on ? 'SIGSTOP' : 'SIGCONT')
    else this.process.child.kill('SIGUSR2')
  }

  async end() {
    this.process?.child.kill('SIGTERM')
    this.wires?.end()
    if (this.process && (await this.process.exit(10)) === null) this.process.child.kill('SIGKILL')
    rmSync(this.work, { recursive: true, force: true })
  }

  #hear({ what, joint, since, trouble, says }) {
    // What was said is in here: hundreds of kills say much.
    this.process.out.length = 0
    if (what === 'serving') this.#serving = true
    if (what === 'bus') this.reports.push({ trouble, says })
    if (joint === undefined) return
    const j = this.joints.get(joint) ?? { moving: true, moved: 0, powered: true, switched: 0 }
    this.joints.set(joint, j)
    if (what === 'moves' || what === 'rests') {
      j.moving = what === 'moves'
      j.moved = Number(since)
    } else {
      j.powered = what === 'powered'
      j.switched = Number(since)
    }
  }
}
