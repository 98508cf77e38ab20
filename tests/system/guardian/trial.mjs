/**
 * One kill: `drystroke run` with its bench process and its guardian, the arms of `drystroke stand-in` in another process. At a
 * phase of the stroke something is done to the bench process; when the last joint came to rest and the last drive had no
 * power is the arms' own word. All times are of CLOCK_MONOTONIC, ns.
 */
import { closeSync, mkdtempSync, openSync, readFileSync, readSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { onlyChildOf } from '../../setup/children.mjs'
import { MAIN, preloaded } from './kill-arms.mjs'
import { SCENARIO } from './kill-rig.mjs'
import { now, pause, Told } from './told.mjs'

/**
 * What is done to the bench process, and what the guardian must find. `deed`: the process does it itself, see deeds.mjs. A busy machine
 * may take longer to clear a killed process away than the guardian waits for its beat: then it is silent before it is gone.
 */
export const MANNERS = {
  kill: { signal: 'SIGKILL', causes: ['gone', 'silent'] },
  freeze: { signal: 'SIGSTOP', causes: ['silent'] },
  loop: { deed: 'loop', signal: 'SIGUSR2', causes: ['silent'] },
  /** Killed with half a line on the way. */
  half: { deed: 'half', signal: 'SIGUSR2', causes: ['gone', 'silent'] },
  /** It fills its transmit queues for ever while nothing is taken from them. */
  full: { deed: 'flood', signal: 'SIGUSR2', causes: ['silent'] },
}
/** ms that the queues stay full beyond the end of the bench process. */
const BLOCKED = 150

/** A busy machine ended or stopped the run before anything was done to it: it says nothing of the guardian. */
export class TooLate extends Error {}

export class KillRun {
  /** Of events.jsonl, what was read. */
  #text = ''
  #file = null
  /** Upper bound of the time (ns) that is 0 in the recording: of what was read, the least delay. */
  base = Number.POSITIVE_INFINITY
  /** Processes, once the scenario is played. */
  bench = 0
  guardian = 0

  /** @param arms @param {string} manner one of MANNERS */
  constructor(arms, manner) {
    this.arms = arms
    this.work = mkdtempSync(join(tmpdir(), 'drystroke-kill-'))
    this.folder = join(this.work, 'out', 'kill')
    const scenario = join(this.work, 'kill.yaml')
    writeFileSync(scenario, SCENARIO)
    const args = ['run', scenario, '--rig', arms.rigFile, '--stand-in', arms.orders]
    const { deed } = MANNERS[manner]
    const env = deed ? { ...preloaded('deeds.mjs'), DRYSTROKE_KILL_DEED: deed } : {}
    this.command = new Told([MAIN, ...args, '--out', join(this.work, 'out')], env)
  }

  /** Waits for the scenario, then `s` seconds more. @throws TooLate */
  async inMidStroke(s) {
    const zero = await this.#until(() => (this.#text.includes('"stage":"play"') ? now() : null))
    this.bench = onlyChildOf(this.command.child.pid)
    this.guardian = onlyChildOf(this.bench)
    await this.#until(() => now() > zero + s * 1e9)
    if (this.#text.includes('"kind":"stop"')) throw new TooLate(`it was stopped: ${this.#last('stop')}`)
  }

  /** Lines of a file of the recording. */
  lines(name) {
    return readFileSync(join(this.folder, name), 'utf8')
      .trim()
      .split('\n')
      .map((line) => JSON.parse(line))
  }

  get verdict() {
    return JSON.parse(readFileSync(join(this.folder, 'verdict.json'), 'utf8'))
  }

  /** Why it ended, where it has come to a verdict. */
  get #sentence() {
    try {
      return this.verdict.sentence
    } catch {
      return null
    }
  }

  async end() {
    // What is left of a trial that went wrong: a signal stops a run in good order.
    this.command.child.kill('SIGTERM')
    if ((await this.command.exit(30)) === null) {
      for (const pid of [this.command.child.pid, this.bench, this.guardian]) if (pid) end(pid)
    }
    if (this.#file !== null) closeSync(this.#file)
    rmSync(this.work, { recursive: true, force: true })
  }

  async #until(find) {
    try {
      return await this.command.until(() => {
        this.#read()
        return find()
      }, 'mid-stroke')
    } catch (error) {
      throw new TooLate(this.#sentence ?? error.message, { cause: error })
    }
  }

  #read() {
    try {
      this.#file ??= openSync(join(this.folder, 'events.jsonl'), 'r')
    } catch {
      return
    }
    const bytes = Buffer.alloc(1 << 16)
    const count = readSync(this.#file, bytes)
    if (count === 0) return
    this.#text += bytes.toString('latin1', 0, count)
    const t = this.#text.slice(-3000).match(/"kind":"tick",.*?"t":(\d+)/g)
    if (t) this.base = Math.min(this.base, now() - Number(t.at(-1).match(/\d+$/)[0]))
  }

  #last(kind) {
    return this.#text.split('\n').findLast((l) => l.includes(`"kind":"${kind}"`))
  }
}

/** @param {import('./kill-arms.mjs').KillArms} arms @param {string} manner @param {number} at s of the scenario @returns what one kill came to; times in ms from the kill */
export async function trial(arms, manner, at) {
  const { signal, causes } = MANNERS[manner]
  const run = new KillRun(arms, manner)
  try {
    await run.inMidStroke(at)
    const { moving } = arms
    arms.reports.length = 0
    arms.runOn(true)
    if (manner === 'full') arms.block(true)
    const t0 = now()
    try {
      process.kill(run.bench, signal)
    } catch (error) {
      throw new TooLate('the bench process is gone already', { cause: error })
    }
    let room = t0
    if (manner === 'full') {
      try {
        await arms.process.until(() => !lives(run.bench), 'the bench process gone')
        await pause(BLOCKED)
        if (arms.powered < 12) throw new Error('a drive was stopped although nothing reached it')
      } finally {
        room = now()
        arms.block(false)
      }
    }
    const { still, off } = await arms.stopped()
    const status = await run.command.exit()
    const account = run.lines('guardian.jsonl')
    const took = account.find((e) => e.kind === 'takeover')
    const since = (t) => (t - t0) / 1e6
    const taken = since(took.t + run.base)
    if (run.lines('events.jsonl').some((e) => e.kind === 'stop') || taken < -20)
      throw new TooLate(`it was stopped before the kill: ${JSON.stringify(took)}`)
    const { verdict } = run
    const before = verdict.findings.find((f) => f.severity === 'failure' && f.t + run.base < t0)
    if (before) throw new TooLate(`it had failed before the kill: ${verdict.sentence}`)
    const last = account.at(-1)
    const events = run.lines('events.jsonl')
    const zero = events.find((e) => e.kind === 'stage' && e.stage === 'play').t
    const bench = events.find((e) => e.kind === 'process')
    const result = {
      manner,
      scenarioTime: (events.findLast((e) => e.kind === 'tick').t - zero) / 1e9,
      moving,
      scheduling: `${bench.bench}, guardian ${bench.guardian}`,
      detected: taken,
      benchGone: since(account.find((e) => e.kind === 'bench ended').t + run.base),
      stopSent: since(account.find((e) => e.kind === 'stop').t + run.base),
      still: since(still),
      off: since(off),
      /** From when frames were taken again. */
      offAfterRoom: (off - room) / 1e6,
      cause: took.cause,
      verdict: verdict.sentence,
      reports: [...arms.reports],
      account: account.filter(
        (e) =>
          e.kind === 'bus' || e.kind === 'notice' || (e.kind === 'drive' && !(e.off && e.still !== null)),
      ),
      lasted: (last.t - took.t) / 1e6,
      wrong: [],
    }
    const expect = (what, holds) => holds || result.wrong.push(what)
    expect('joints moved at the kill', moving > 0)
    expect(`taken over because ${causes.join(' or ')}`, causes.includes(took.cause))
    expect(
      'the bench process was ended',
      account.some((e) => e.kind === 'bench ended' && e.gone),
    )
    expect('nothing of it was left when the stop began', account.find((e) => e.kind === 'bench ended').gone)
    expect('no bench process is left', !lives(run.bench))
    expect('no guardian is left', await gone(run.guardian))
    expect('12 of 12 drives confirmed', last.kind === 'end' && last.confirmed === 12 && last.drives === 12)
    expect('the last joint was seen at rest', last.still !== null)
    expect('status 4', status === 4)
    expect('incomplete, cut short', verdict.outcome === 'incomplete' && verdict.ended === 'cut short')
    expect(
      'the verdict says so',
      /The guardian stopped the arms, because .*; 12 of 12/.test(verdict.sentence),
    )
    const garbled = arms.reports.filter((r) => r.trouble === 'garbled')
    const half = manner === 'half'
    expect(
      half ? 'the half line was ended' : 'no line was cut in two',
      half
        ? garbled.length === 1 && garbled[0].says.includes('"t2014AB"')
        : manner === 'full' || !garbled.length,
    )
    return result
  } finally {
    arms.runOn(false)
    await run.end()
  }
}

/** Starts that a busy machine spoils before the kill, in a row. */
const MOST_REPEATS = 50

/** As `trial`; what was too late is told and done again. @param {(says: string) => void} [tell] */
export async function trialInTime(arms, manner, at, tell = () => {}) {
  for (let again = 0; ; again++) {
    try {
      return await trial(arms, manner, at)
    } catch (error) {
      if (!(error instanceof TooLate) || again === MOST_REPEATS) throw error
      tell(error.message)
    }
  }
}

/** It is there, and no zombie. */
function lives(pid) {
  try {
    return !/^\d+ \(.*\) [ZX]/.test(readFileSync(`/proc/${pid}/stat`, 'latin1'))
  } catch {
    return false
  }
}

async function gone(pid) {
  for (let i = 0; i < 500 && lives(pid); i++) await pause(10)
  return !lives(pid)
}

function end(pid) {
  try {
    process.kill(pid, 'SIGKILL')
  } catch {
    // It went by itself.
  }
}
