/**
 * Runs judged by a log of their frames that somebody else could have written: in wall-clock time, with frames from before
 * and after, stamped a little earlier than we were told of them.
 */
import { spawnSync } from 'node:child_process'
import { cpSync, existsSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { dirname, join } from 'node:path'
import { beforeAll, describe, expect, it } from 'vitest'
import type { BenchEvent } from '../../src/files/event.js'
import { randomStream } from '../../src/random.js'
import { exportCandump } from '../../src/record/export.js'
import { PcapngReader } from '../../src/record/pcapng-reader.js'
import { judgeByLog } from '../../src/verdict/judge-recording.js'
import { candumpLine } from '../../src/wire/candump.js'
import type { Frame } from '../../src/wire/frame.js'
import { change, DEMO_RIG, type Played, play, played, scenarioText, temporaryFolder } from '../setup/runs.js'

const START = 1_700_000_000
const root = new URL('../../', import.meta.url).pathname

/** What a witness's log says of the recording, one line a frame. */
function logLines(folder: string, origin = START): string[] {
  return [...exportCandump(folder, origin)].join('').trimEnd().split('\n')
}

/**
 * As a kernel would have stamped them, in a clock of its own: ours 20 us before we have handed them over, others' up to
 * 300 us before we are told of them.
 */
function witnessed(folder: string, name: string): string[] {
  const random = randomStream(4, name)
  const frames: { bus: string; frame: Frame; t: number }[] = []
  const latest = [0, 0]
  const reader = new PcapngReader(join(folder, 'frames.pcapng'))
  while (reader.next()) {
    const { bus, frame, t, sent } = reader
    const early = sent ? 20_000 : Math.floor(random.uniform() * 300_000)
    // Frames of one bus keep their order.
    latest[bus] = Math.max(latest[bus]!, t + 250_000_000 - early)
    frames.push({ bus: reader.names[bus]!, frame, t: latest[bus]! })
  }
  reader.close()
  return frames.sort((a, b) => a.t - b.t).map(({ t, bus, frame }) => candumpLine(t, bus, frame, START))
}

const byLog = (folder: string, log: string, offset?: number) =>
  judgeByLog(folder, log, offset, () => ({ frame: () => {}, event: () => {} }))

/** As it stands in a recording just before the event of this line. */
function lostLine(line: string): string {
  const { kind: _, t, after } = JSON.parse(line) as { kind: string; t: number; after: number }
  return JSON.stringify({ kind: 'lost', t, after, frames: 1, ticks: 1 })
}

describe('a run judged by a log of its frames', () => {
  const out = temporaryFolder()
  const log = join(out, 'can.log')
  const write = (lines: readonly string[]): void => writeFileSync(log, `${lines.join('\n')}\n`)

  it.each(['joint-jammed', 'joint-silent', 'operator-stop'])(
    '%s: the same verdict and findings, times within 2 ms',
    async (name) => {
      const { folder, verdict } = await played(DEMO_RIG, scenarioText(name))
      write(witnessed(folder, name))

      const { judgement, facts } = byLog(folder, log)
      expect(facts).toMatchObject({ found: facts.recorded, taken: facts.recorded, left: 0, events: true })
      expect(Math.abs(facts.clockOffset - (START + 0.25 - 0.00015))).toBeLessThan(0.00015)
      expect(facts.apart).toBeGreaterThan(20_000)
      expect(facts.apart).toBeLessThan(400_000)
      const found = judgement.verdict
      expect(found.outcome).toBe(verdict.outcome)
      expect(found.stop?.t).toBe(verdict.stop?.t)
      expect(found.findings.map((f) => [f.watch, f.place, f.quantity, f.severity])).toEqual(
        verdict.findings.map((f) => [f.watch, f.place, f.quantity, f.severity]),
      )
      for (const [i, f] of found.findings.entries()) {
        expect(Math.abs(f.t - verdict.findings[i]!.t), f.says).toBeLessThan(2e6)
      }
    },
  )

  describe('slow-ahead, shortened', () => {
    let run: Played
    let lines: string[]

    beforeAll(async () => {
      const shorter = change(change(scenarioText('slow-ahead'), '"25 s"', '"8 s"'), '"20 s"', '"5 s"')
      run = await play(out, DEMO_RIG, shorter.replaceAll('least: 4', 'least: 1'), 3)
      lines = logLines(run.folder)
    })

    it('is incomplete without its events, whatever the frames look like', () => {
      const frames = `${run.folder}-frames-only`
      cpSync(run.folder, frames, { recursive: true })
      rmSync(join(frames, 'events.jsonl'))
      write(lines)
      const { verdict } = byLog(frames, log).judgement
      expect(verdict.outcome).toBe('incomplete')
      expect(verdict.sentence).toBe(
        'Incomplete: the events of the run are missing, and frames alone do not say what was asked of the arms.',
      )
      expect(verdict.watches.find((w) => w.watch === 'limits')!.figures.length).toBeGreaterThan(0)
      // Where the log has another run before it, its frames still say where it began.
      const before = lines.slice(0, 3000).map((l) => l.replace('(17000000', '(16999000'))
      write([...before, ...lines])
      expect(byLog(frames, log).facts).toMatchObject({ found: lines.length, clockOffset: START })
    })

    it('leaves out what the log has from before and after the run, and of other buses', () => {
      const other = ['(1699999990.000000) starboard-can 701#05', ...lines]
      other.splice(5000, 0, lines[5000]!.replace('port-can', 'vcan7').replace('starboard-can', 'vcan7'))
      write([...other, '(1700000900.000000) port-can 701#05'])
      const { judgement, facts } = byLog(run.folder, log)
      expect(facts).toMatchObject({ left: 3, taken: facts.recorded })
      expect(judgement.verdict.outcome).toBe('pass')
    })

    it('takes the lines of two buses as candump on a busy machine reads them: some of one, then some of the other', () => {
      const blocks: string[] = []
      for (let at = 0; at < lines.length; at += 1000) {
        const block = lines.slice(at, at + 1000)
        blocks.push(...block.filter((l) => l.includes(' starboard-can ')))
        blocks.push(...block.filter((l) => !l.includes(' starboard-can ')))
      }
      expect(blocks).not.toEqual(lines)
      write(blocks)
      const { judgement, facts } = byLog(run.folder, log)
      expect(facts).toMatchObject({ found: facts.recorded, taken: facts.recorded })
      expect(facts.apart).toBeLessThan(2000)
      expect(judgement.verdict).toMatchObject({ outcome: 'pass', findings: [] })
    })

    it('is incomplete when frames of ours are not in the log, also when no watch misses them', () => {
      const heartbeat = lines.findIndex((l, i) => i > 30_000 && l.includes(' port-can 70B#05'))
      write(lines.filter((_, i) => i !== heartbeat))
      const { verdict } = byLog(run.folder, log).judgement
      expect(verdict.outcome).toBe('incomplete')
      expect(verdict.findings).toEqual([
        expect.objectContaining({ watch: 'log', place: 'port-can', severity: 'doubt', value: 1 }),
      ])
    })

    it('fails when the log has a setpoint that the recording has not', () => {
      const at = lines.findIndex((l, i) => i > 30_000 && l.includes(' port-can 20B#'))
      write(lines.toSpliced(at, 0, lines[at]!))
      const { verdict } = byLog(run.folder, log).judgement
      expect(verdict.outcome).toBe('fail')
      expect(verdict.findings.map((f) => [f.watch, f.place, f.severity])).toContainEqual([
        'bus',
        'port-can',
        'failure',
      ])
    })

    it('does not take own frames that the recording lost for those of a second sender', () => {
      const lossy = `${run.folder}-lossy`
      cpSync(run.folder, lossy, { recursive: true })
      const path = join(lossy, 'events.jsonl')
      const events = readFileSync(path, 'utf8').trimEnd().split('\n')
      // As many of ours as the log has more than the recording: the same setpoint again, which is none to find fault with.
      const at = lines.findIndex((l, i) => i > 30_000 && l.includes(' port-can 20B#'))
      write(lines.toSpliced(at, 0, lines[at]!))
      const secondSender = () =>
        byLog(lossy, log).judgement.verdict.findings.filter(
          (f) => f.watch === 'bus' && f.severity === 'failure',
        )
      expect(secondSender()).toHaveLength(1)
      writeFileSync(path, `${[...events.slice(0, -1), lostLine(events.at(-1)!), events.at(-1)].join('\n')}\n`)
      expect(secondSender()).toEqual([])
      expect(byLog(lossy, log).judgement.verdict.outcome).toBe('incomplete')
    })

    it('needs to be told the clock offset where the recording has no frames, and then knows own frames by their identifiers', () => {
      const events = `${run.folder}-events-only`
      cpSync(run.folder, events, { recursive: true })
      rmSync(join(events, 'frames.pcapng'))
      write(lines)
      expect(() => byLog(events, log)).toThrow(
        /has no frames\.pcapng\. Use the log .* --clock-offset '1700000000\.25 s'/,
      )
      const { judgement, facts } = byLog(events, log, START)
      expect(judgement.verdict.findings).toEqual([])
      expect(judgement.verdict.outcome).toBe('pass')
      expect(facts).toMatchObject({ recorded: 0, taken: lines.length })
    })

    it('refuses the log of another run, and one whose clock was set', async () => {
      const { folder } = await play(out, DEMO_RIG, scenarioText('operator-stop'), 9)
      write(logLines(folder))
      expect(() => byLog(run.folder, log)).toThrow(/only \d+ of the \d+ frames .* are in .*can\.log/)
      write(lines)
      expect(() => byLog(run.folder, log, START + 7)).toThrow(
        /only \d+ of the \d+ frames .* are in .*can\.log/,
      )

      write([...lines.slice(0, 30_000), ...logLines(run.folder, START - 3600).slice(30_000)])
      expect(() => byLog(run.folder, log)).toThrow(/a line is 3600\.\d+ s earlier .* the clock was set/)

      write(lines.slice(0, 9).map((l) => l.replace(/ \S+ /, ' can5 ')))
      expect(() => byLog(run.folder, log)).toThrow(
        /found frames of can5 only; expected .*port-can, starboard-can/,
      )
    })

    it('by the command: a recording of its own, which is judged again to the byte; the given one stays as it was', () => {
      write(lines)
      const before = readdirSync(dirname(run.folder))
      const own = readFileSync(join(run.folder, 'verdict.json'))
      const judge = (...args: string[]) =>
        spawnSync(process.execPath, [join(root, 'dist/cli/main.js'), 'judge', ...args], { encoding: 'utf8' })
      const { status, stdout, stderr } = judge(run.folder, '--frames', log)
      expect(stderr).toBe('')
      expect(status).toBe(0)
      const made = readdirSync(dirname(run.folder)).filter((f) => !before.includes(f))
      expect(made).toHaveLength(1)
      const folder = join(dirname(run.folder), made[0]!)
      expect(made[0]).toMatch(/-by-log$/)
      expect(stdout).toContain(`Recording: ${folder}`)
      expect(stdout.replaceAll('\n', ' ')).toContain(
        `${lines.length} of the recording's ${lines.length} frames are in the log`,
      )
      expect(existsSync(join(folder, 'report.html'))).toBe(true)
      expect(judge(folder, '--json').stdout).toBe(readFileSync(join(folder, 'verdict.json'), 'utf8'))
      expect(readFileSync(join(run.folder, 'verdict.json'))).toEqual(own)

      const bad = judge(run.folder, '--frames', log, '--clock-offset', '12')
      expect(bad.status).toBe(2)
      expect(bad.stderr).toMatch(/^--clock-offset: "12" has no unit/)
      const none = judge(run.folder, '--frames', `${log}.none`)
      expect(none.status).toBe(2)
      expect(none.stderr).toContain('can.log.none cannot be read')
      expect(readdirSync(dirname(run.folder)).filter((f) => !before.includes(f))).toEqual(made)
    })
  })

  it('puts findings into the new recording behind what they were made of', async () => {
    const { folder } = await play(out, DEMO_RIG, scenarioText('joint-jammed'), 5)
    write(logLines(folder))
    const seen: (BenchEvent['kind'] | 'frame')[] = []
    judgeByLog(folder, log, undefined, () => ({
      frame: () => seen.push('frame'),
      event: (e) => seen.push(e.kind),
    }))
    const at = seen.indexOf('finding')
    expect(seen[at - 1]).toBe('frame')
    expect(seen.indexOf('stop')).toBeGreaterThan(at)
    expect(seen.filter((k) => k !== 'frame').at(-1)).toBe('end')
  })
})
