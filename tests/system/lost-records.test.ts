/**
 * Records that were not written down in time: dropped by the bench process, told in the recording, and never a pass, whoever
 * judges. The run is the bench process's own, in virtual time.
 */
import { readFileSync } from 'node:fs'
import { join } from 'node:path'
import { describe, expect, it } from 'vitest'
import type { BenchEvent } from '../../src/files/event.js'
import { verdictJson } from '../../src/report/verdict-json.js'
import { writeReports } from '../../src/report/write.js'
import { judgeRecording } from '../../src/verdict/judge-recording.js'
import { LiveRun } from '../setup/live-run.js'
import { scenarioText, temporaryFolder } from '../setup/runs.js'

const outDir = temporaryFolder()

/** Half a second of both buses and their ticks, about. */
const BACKLOG = 300e3

const SHORT = `name: short
about: Both sides pull ahead for a while.
duration: "4 s"
commands:
  - { at: "0.5 s", surge: "0.3 m/s", yaw: "0 deg/s", over: "0.5 s" }
expect:
  outcome: finish
  parked: true
`

/** A run whose parent takes nothing for `frozen` s from `at` s of the scenario on. */
async function play(frozen: number, { scenario = SHORT, at = 1, orphaned = false } = {}): Promise<LiveRun> {
  const live = new LiveRun({ outDir, scenario, backlog: BACKLOG })
  await live.begin()
  await live.until(() => live.scenarioTime >= at)
  live.frozen = frozen > 0
  await live.wait(frozen)
  if (orphaned) live.orphan()
  else live.thaw()
  await live.until(() => live.ended)
  live.close()
  return live
}

/** What whoever wrote the recording does at its end: the verdict that it leaves, by its bytes. */
function judged(live: LiveRun): string {
  writeReports(live.folder, judgeRecording(live.folder))
  return readFileSync(join(live.folder, 'verdict.json'), 'utf8')
}

const lostIn = (live: LiveRun) =>
  live.events.flatMap((e) => (e.kind === 'lost' ? [{ frames: e.frames, ticks: e.ticks }] : []))
/** Numbers of the ticks since scenario zero, from which on each has a record. */
function ticksIn(events: readonly BenchEvent[]): number[] {
  const zero = events.findIndex((e) => e.kind === 'stage' && e.stage === 'play')
  return events.slice(zero).flatMap((e) => (e.kind === 'tick' ? [e.k] : []))
}

describe('records of a run in real time', () => {
  it('are all there, and the run passes, when they wait no longer than the backlog lets them', async () => {
    const live = await play(0.3)
    expect(lostIn(live)).toEqual([])
    expect(JSON.parse(judged(live))).toMatchObject({ outcome: 'pass', ended: 'completed' })
  })

  it('are dropped, counted and told when they wait longer: the run went on, and is incomplete', async () => {
    const live = await play(1.5)
    const lost = lostIn(live)
    expect(lost).toHaveLength(1)
    // What is missing is what was told.
    const ks = ticksIn(live.events)
    const missing = ks.at(-1)! - ks[0]! + 1 - ks.length
    expect(missing).toBe(lost[0]!.ticks)
    // Ticks come at 200 Hz, each with two SYNCs and the setpoint and the feedback of twelve joints.
    expect(missing).toBeGreaterThan(100)
    expect(lost[0]!.frames).toBeGreaterThan(missing * 26)
    expect(live.events.at(-1)).toMatchObject({ kind: 'end', reason: 'completed' })

    const verdict = JSON.parse(judged(live))
    expect(verdict).toMatchObject({ outcome: 'incomplete', ended: 'completed', stop: null })
    const found = verdict.findings.filter((f: { severity: string }) => f.severity !== 'warning')
    expect(found).toEqual([
      expect.objectContaining({
        ...{ watch: 'recording', severity: 'doubt', quantity: 'records lost' },
        value: lost[0]!.frames + lost[0]!.ticks,
      }),
    ])
  })

  it('that were dropped before a stop which the scenario expects leave it unseen: incomplete', async () => {
    const scenario = scenarioText('operator-stop')
    expect(JSON.parse(judged(await play(0, { scenario, at: 5 })))).toMatchObject({ outcome: 'pass' })
    const live = await play(0.9, { scenario, at: 4.9 })
    expect(live.events.some((e) => e.kind === 'stop')).toBe(true)
    expect(JSON.parse(judged(live))).toMatchObject({ outcome: 'incomplete', stop: { source: 'operator' } })
  })

  it('that were dropped while the parent died are told by the bench process, which writes the rest: incomplete', async () => {
    const live = await play(1.5, { orphaned: true })
    expect(lostIn(live)).toHaveLength(1)
    expect(live.events.find((e) => e.kind === 'stop')).toMatchObject({ source: 'parent' })
    expect(JSON.parse(judged(live))).toMatchObject({ outcome: 'incomplete', ended: 'signal' })
  })

  it('give the same bytes of a verdict each time that they are judged', async () => {
    const live = await play(1.5)
    const first = judged(live)
    expect(verdictJson(judgeRecording(live.folder).judgement.verdict)).toBe(first)
    expect(judged(live)).toBe(first)
  })
})
