/**
 * Runs in real time on the mock bus, in processes of their own: how they end, whoever ends them, and whatever becomes of the
 * process that writes them down. The rig's own limits on time are wide here: machines that run tests are busy, and it is
 * how a run ends that counts.
 */
import { type ChildProcess, spawn, spawnSync } from 'node:child_process'
import { once } from 'node:events'
import { existsSync, mkdtempSync, readdirSync, readFileSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { describe, expect, it, vi } from 'vitest'
import type { BenchEvent } from '../../src/files/event.js'
import type { Verdict } from '../../src/verdict/verdict.js'
import { onlyChildOf } from '../setup/children.mjs'
import { change, DEMO_RIG, scenarioText, temporaryFolder } from '../setup/runs.js'

// Each starts four processes, on a machine that may have ten other things to do.
vi.setConfig({ testTimeout: 300_000 })

const root = new URL('../../', import.meta.url).pathname
const main = join(root, 'dist/cli/main.js')
const out = temporaryFolder()

const WIDE: readonly (readonly [RegExp, string])[] = [
  [/rate: "200 Hz"/, 'rate: "50 Hz"'],
  [/stale-after: .*/, 'stale-after: "1 s"\n  reply-within: "500 ms"'],
  [/patience: .*/, 'patience: "20 s"'],
  [/heartbeat-timeout: .*/, 'heartbeat-timeout: "2 s"'],
  // Arms that stop by themselves when SYNC is late would have the first word.
  [/watchdog: .*/, 'watchdog: false'],
  // Slow strokes bear what comes late.
  [/speed-cap: "100 %"/, 'speed-cap: "20 %"'],
  [/ window: "10 deg"/, ' window: "90 deg"'],
  [
    /^watch: .*/m,
    'watch: { bus: { period: "1000 %", lost: "100 %", doubled: "100 %", late: "100 %" }, silence: { periods: 50, heartbeats: 20 }, tracking: { window: "90 deg", timeout: "2 s" } }',
  ],
]
const PATIENT = `${WIDE.reduce((text, [from, to]) => change(text, from, to), DEMO_RIG)}
realtime:
  late: "100 ms"
  most-late: 1000
  fifo: false
`
const rig = join(out, 'rig.yaml')
writeFileSync(rig, PATIENT)
const short = join(out, 'short.yaml')
writeFileSync(short, change(scenarioText('slow-ahead'), /^duration: .*/m, 'duration: "120 s"'))

function start(
  name: string,
  extra: readonly string[] = [],
  rigFile = rig,
): ChildProcess & { folder: string } {
  // Of this try alone: what an earlier one left would be taken for its own.
  const folder = mkdtempSync(join(out, `${name}-`))
  const child = spawn(
    process.execPath,
    [main, 'run', short, '--rig', rigFile, '--realtime', '--out', folder, ...extra],
    { stdio: ['ignore', 'pipe', 'pipe'] },
  )
  return Object.assign(child, { folder: join(folder, 'slow-ahead') })
}

const events = (folder: string): BenchEvent[] => {
  const file = join(folder, 'events.jsonl')
  const lines = existsSync(file) ? readFileSync(file, 'utf8').split('\n').slice(0, -1) : []
  return lines.map((line) => JSON.parse(line) as BenchEvent)
}
const verdictOf = (folder: string): Verdict =>
  JSON.parse(readFileSync(join(folder, 'verdict.json'), 'utf8')) as Verdict
const stopIn = (folder: string) => events(folder).find((e) => e.kind === 'stop')

/** Looks again until it is so; the test's own time limit ends it. */
async function until(holds: () => boolean): Promise<void> {
  while (!holds()) await new Promise((resolve) => setTimeout(resolve, 50))
}

/** Until the arms are led to the start of the stroke. @throws when the command ends before, or something else stops it */
async function approaching(child: ChildProcess & { folder: string }): Promise<void> {
  let errors = ''
  child.stderr!.on('data', (bytes) => {
    errors += bytes
  })
  const over = () => child.exitCode !== null || child.signalCode !== null
  const begun = () => events(child.folder).some((e) => e.kind === 'stage' && e.stage === 'approach')
  await until(() => over() || begun() || stopIn(child.folder) !== undefined)
  expect({ over: over(), stop: stopIn(child.folder), errors }).toMatchObject({ over: false, stop: undefined })
}

/** The bench process of a command. */
const benchOf = (child: ChildProcess): number => onlyChildOf(child.pid)
const alive = (pid: number): boolean => existsSync(`/proc/${pid}`)

/** Verdict and reports anew give the same bytes. */
async function judgedTheSame(folder: string): Promise<void> {
  const before = readFileSync(join(folder, 'verdict.json'), 'utf8')
  const judge = spawn(process.execPath, [main, 'judge', folder, '--json'], {
    stdio: ['ignore', 'pipe', 'ignore'],
  })
  let printed = ''
  judge.stdout.on('data', (bytes) => {
    printed += bytes
  })
  await once(judge, 'close')
  expect(printed).toBe(before)
}

describe.concurrent('a run in real time', () => {
  it('is ended by a signal to the parent: stop, whole recording, exit status 3', async () => {
    const child = start('term')
    await approaching(child)
    child.kill('SIGTERM')
    const [status] = await once(child, 'exit')
    expect(status).toBe(3)
    expect(stopIn(child.folder)).toMatchObject({ source: 'signal', says: 'SIGTERM was received' })
    expect(events(child.folder).at(-1)).toMatchObject({ kind: 'end', reason: 'signal' })
    const process = events(child.folder).find((e) => e.kind === 'process')
    expect(process).toMatchObject({ bench: 'normal', guardian: 'none' })
    const timing = verdictOf(child.folder).watches.find((w) => w.watch === 'timing')!
    expect(timing.figures.map((f) => f.name)).toContain('tick lateness, 99.9 %')
    await judgedTheSame(child.folder)
  })

  it.each(['SIGINT', 'SIGHUP', 'SIGTSTP'] as const)(
    'is ended by %s to the bench process, once',
    async (signal) => {
      const child = start(signal)
      await approaching(child)
      process.kill(benchOf(child), signal)
      child.kill(signal)
      const [status] = await once(child, 'exit')
      expect(status).toBe(3)
      expect(events(child.folder).filter((e) => e.kind === 'stop')).toHaveLength(1)
      expect(verdictOf(child.folder)).toMatchObject({ ended: 'signal', stop: { source: 'signal' } })
    },
  )

  it('stops the arms and finishes the recording when its parent is killed', async () => {
    const child = start('orphan')
    await approaching(child)
    const bench = benchOf(child)
    child.kill('SIGKILL')
    await once(child, 'exit')
    await until(() => !alive(bench))
    expect(stopIn(child.folder)).toMatchObject({ source: 'parent', category: 1 })
    expect(events(child.folder).at(-1)).toMatchObject({ kind: 'end' })
    expect(events(child.folder).some((e) => e.kind === 'lost')).toBe(false)
    const ks = events(child.folder).flatMap((e) => (e.kind === 'tick' ? [e.k] : []))
    expect(ks.every((k, i) => i === 0 || k > ks[i - 1]!)).toBe(true)
    const verdict = verdictOf(child.folder)
    // Cut short is what a recording is judged that lacks frames in its middle.
    expect(verdict).toMatchObject({ ended: 'signal', stop: { source: 'parent' } })
    expect(verdict.stop!.toStill).not.toBeNull()
    expect(JSON.parse(readFileSync(join(child.folder, 'provenance.json'), 'utf8')).ended).not.toBeNull()
    expect(readdirSync(child.folder)).toContain('report.html')
    await judgedTheSame(child.folder)
  })

  it('goes on while its parent is frozen, and is recorded whole when that wakes', async () => {
    const child = start('frozen')
    await approaching(child)
    child.kill('SIGSTOP')
    const before = events(child.folder).length
    process.kill(benchOf(child), 'SIGTERM')
    // Nobody writes; the bench process comes to its end and waits for somebody to take what it has.
    await until(() => readFileSync(`/proc/${child.pid}/stat`, 'utf8').includes(') T '))
    expect(events(child.folder).length).toBe(before)
    child.kill('SIGCONT')
    await once(child, 'exit')
    expect(events(child.folder).at(-1)).toMatchObject({ kind: 'end', reason: 'signal' })
    await judgedTheSame(child.folder)
  })

  it('is cut short, and never a pass, when the bench process is killed', async () => {
    const child = start('killed')
    await approaching(child)
    process.kill(benchOf(child), 'SIGKILL')
    const [status] = await once(child, 'exit')
    expect([1, 4]).toContain(status)
    expect(verdictOf(child.folder)).toMatchObject({ ended: 'cut short' })
    await judgedTheSame(child.folder)
  })

  it('is stopped by its own policy when the loop was held up', async () => {
    const strict = join(out, 'strict.yaml')
    writeFileSync(strict, change(PATIENT, 'most-late: 1000', 'most-late: 40'))
    const child = start('overrun', [], strict)
    await approaching(child)
    const bench = benchOf(child)
    process.kill(bench, 'SIGSTOP')
    // More than forty periods.
    await new Promise((resolve) => setTimeout(resolve, 1500))
    process.kill(bench, 'SIGCONT')
    await once(child, 'exit')
    expect(events(child.folder).some((e) => e.kind === 'stop')).toBe(true)
    const finding = events(child.folder).find((e) => e.kind === 'finding' && e.watch === 'timing')
    expect(finding).toMatchObject({ stop: 1, quantity: 'lateness' })
    const verdict = verdictOf(child.folder)
    expect(verdict.sentence).toMatch(/^(Incomplete|Fail): bench at fault: \d+ ticks were missed/)
    await judgedTheSame(child.folder)
  })

  it.skipIf(spawnSync('python3', ['-c', 'import pty']).status !== 0).each([
    ['space', '20', 'key'],
    ['Esc', '1b', 'key'],
    ['Ctrl-C', '03', 'key'],
    ['a terminal that is closed', '', 'terminal|signal'],
  ])('is ended from its terminal: %s', async (name, hex, source) => {
    const recordings = mkdtempSync(join(out, `keys-${hex}-`))
    const folder = join(recordings, 'slow-ahead')
    const child = spawn('python3', [
      join(root, 'tests/system/on-a-terminal.py'),
      ...[hex, join(folder, 'events.jsonl'), process.execPath, main],
      ...['run', short, '--rig', rig, '--realtime', '--out', recordings],
    ])
    let printed = ''
    child.stdout.on('data', (bytes) => {
      printed += bytes
    })
    await once(child, 'close')
    const result = JSON.parse(printed)
    await until(() => existsSync(join(folder, 'report.html')))
    expect(stopIn(folder)!.source).toMatch(new RegExp(`^(${source})$`))
    expect(['signal', 'operator']).toContain(verdictOf(folder).ended)
    if (hex === '') return
    expect(stopIn(folder)).toMatchObject({ says: `the key ${name} was pressed` })
    expect(result).toEqual({ status: 3, hint: true, raw: true, restored: true })
  })
})
