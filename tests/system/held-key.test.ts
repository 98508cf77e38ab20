/**
 * Hold-to-run from a key on a terminal to the arms: `drystroke run` on a pseudo-terminal, on arms in another process over TCP
 * that it takes for real ones. A person confirms by typing, holds the key, lets go, holds it again, and stops.
 */
import { spawnSync } from 'node:child_process'
import { existsSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterEach, beforeEach, expect, it } from 'vitest'
import type { BenchEvent } from '../../src/files/event.js'
import { loadRig } from '../../src/files/load.js'
import { resolvedRigText } from '../../src/files/resolved-text.js'
import { rigHash, toConfirm } from '../../src/ready/confirmed.js'
import { confirmedFile, writeConfirmed } from '../../src/ready/store.js'
import { watchSchemas } from '../../src/watch/settings.js'
import { OnATerminal } from '../setup/on-a-terminal.js'
import { PATIENT_RIG } from '../setup/patient-rig.js'
import { freePorts, Program } from '../setup/program.js'
import { change, scenarioText } from '../setup/runs.js'

const DEG = Math.PI / 180
/** Ticks of the slow loop in a second. */
const SECOND = 25

let folder: string
let rigFile: string
let arms: Program
let terminal: OnATerminal | null

beforeEach(async () => {
  terminal = null
  folder = mkdtempSync(join(tmpdir(), 'drystroke-held-key-'))
  rigFile = join(folder, 'mine.yaml')
  // Slow, so that there is time to let go.
  let text = change(PATIENT_RIG, 'tip-speed: "250 mm/s"', 'tip-speed: "60 mm/s"')
  for (const port of await freePorts(2))
    text = change(text, 'address: mock', `address: slcan:tcp:127.0.0.1:${port}`)
  writeFileSync(rigFile, text)
  const rig = loadRig(text, rigFile, watchSchemas)
  const hash = rigHash(resolvedRigText(text, watchSchemas))
  const confirmed = { at: new Date().toISOString(), by: 'test', rig: hash, arms: 'real' as const }
  const all = toConfirm(rig).map((c) => ({ ...c, ...confirmed, drive: null, time: null, found: '' }))
  // And what an instrument is said to have read: the recording keeps it.
  const time = { what: 'stopping-time' as const, place: '', time: 0.32, drive: null, found: 'laser gate' }
  writeConfirmed(confirmedFile(rigFile), rig.name, [...all, { ...confirmed, ...time }])
  writeFileSync(join(folder, 'one.yaml'), change(scenarioText('slow-ahead'), /^name: .*/m, 'name: one'))
  arms = new Program('stand-in', '--rig', rigFile, '--json')
  await arms.line(/"serving"/)
})

afterEach(async () => {
  await terminal?.program.end('SIGKILL')
  await arms.end('SIGKILL')
  rmSync(folder, { recursive: true, force: true })
})

type Tick = Extract<BenchEvent, { kind: 'tick' }>

function events(): BenchEvent[] {
  const file = join(folder, 'out/one/events.jsonl')
  const lines = existsSync(file) ? readFileSync(file, 'utf8').split('\n').slice(0, -1) : []
  return lines.map((line) => JSON.parse(line) as BenchEvent)
}

/** Looks again until it is so; the test's own time limit ends it. */
async function until<T>(holds: () => T | undefined | false): Promise<T> {
  for (;;) {
    const found = holds()
    if (found) return found
    if (terminal?.program.process.exitCode !== null) throw new Error(`it has ended:\n${terminal?.shown}`)
    await new Promise((resolve) => setTimeout(resolve, 20))
  }
}

const stage = (): string | undefined => events().findLast((e) => e.kind === 'stage')?.stage
const setpoints = (): number[][] =>
  events().flatMap((e) => (e.kind === 'tick' && e.setpoints ? [(e as Tick).setpoints!] : []))
const apart = (a: readonly number[], b: readonly number[]): number =>
  Math.max(...a.map((x, j) => Math.abs(x - b[j]!)))
const holds = (): boolean[] => events().flatMap((e) => (e.kind === 'hold' ? [e.held] : []))

/** The setpoints of one second that comes from now on in which nothing moves. */
async function aSecondAtRest(): Promise<number[]> {
  const from = setpoints().length
  return until(() => {
    const rows = setpoints()
    const last = rows.slice(-SECOND)
    return rows.length >= from + SECOND && last.every((row) => apart(row, last[0]!) === 0) && last[0]!
  })
}

it.skipIf(spawnSync('python3', ['-c', 'import pty']).status !== 0)(
  'moves while the key is held, rests when it is let go of, goes on when it is held again, and space stops',
  async () => {
    const t = new OnATerminal('run', join(folder, 'one.yaml'), '--rig', rigFile, '--out', join(folder, 'out'))
    terminal = t
    await until(() => /Type the rig's name[^\n]*: /.test(t.shown))
    expect(existsSync(join(folder, 'out'))).toBe(false)
    t.type('reservoir-skiff\r')

    // Nobody holds it: nothing moves.
    await until(() => stage() === 'approach')
    await until(() => t.shown.includes('hold h to move, space or Esc stops'))
    const start = await aSecondAtRest()
    expect(apart(start, setpoints()[0]!)).toBe(0)
    // A tap is no hold.
    t.type('h')
    expect(await aSecondAtRest()).toEqual(start)
    expect(holds()).toEqual([])

    t.hold('h')
    await until(() => apart(setpoints().at(-1)!, start) > 2 * DEG)
    await arms.line(/"what":"moves"/)
    t.release()
    const rested = await aSecondAtRest()
    expect(apart(rested, start)).toBeGreaterThan(2 * DEG)
    expect(stage()).toBe('approach')
    expect(holds()).toEqual([true, false])
    // What the arms themselves say: none still moves that had moved.
    const lastOf = new Map<string, string>()
    for (const line of arms.out) {
      const { what, joint } = JSON.parse(line) as { what: string; joint?: string }
      if (joint !== undefined) lastOf.set(joint, what)
    }
    expect([...lastOf.values()].filter((what) => what === 'moves')).toEqual([])

    t.hold('h')
    await until(() => stage() === 'play')
    t.release()
    await until(() => events().some((e) => e.kind === 'command' && e.surge > 0))
    t.type(' ')
    expect(await t.ended()).toEqual({ status: 3, raw: true, restored: true })
    const all = events()
    expect(
      all.filter((e) => e.kind === 'stop'),
      t.shown,
    ).toMatchObject([{ source: 'key', category: 1 }])
    expect(all.at(-1)).toMatchObject({ kind: 'end', reason: 'operator' })

    // The time of the hard-wired stop is the recording's, in no file that a judge makes but the report.
    expect(t.shown).toMatch(/T = 320 ms, hard-wired stop, entered in its guided test: test/)
    rmSync(confirmedFile(rigFile))
    const verdict = readFileSync(join(folder, 'out/one/verdict.json'))
    const report = readFileSync(join(folder, 'out/one/report.html'), 'utf8')
    expect(report).toMatch(/512 mm/)
    const judge = new Program('judge', join(folder, 'out/one'))
    await judge.ended()
    expect(judge.out.join('\n')).toMatch(/distance +512 mm +560 mm/)
    expect(readFileSync(join(folder, 'out/one/verdict.json')).equals(verdict)).toBe(true)
    expect(readFileSync(join(folder, 'out/one/report.html'), 'utf8')).toBe(report)
  },
  240_000,
)
