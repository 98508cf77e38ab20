/**
 * Every demo scenario, broken in three ways, must fail with a finding that names the joint, the limit and the time.
 * The time is held against the cause's earliest visible effect, worked out here from the recording's raw frames and
 * ticks, not by the watches.
 */
import { describe, expect, it } from 'vitest'
import type { BenchEvent, Finding } from '../../src/files/event.js'
import { loadRig } from '../../src/files/load.js'
import { openRecording } from '../../src/record/read.js'
import { watchSchemas } from '../../src/watch/settings.js'
import { change, DEMO_RIG, eventsOf, play, SCENARIOS, scenarioText, temporaryFolder } from '../setup/runs.js'

const PERIOD = 5e6
const TWO_TICKS = 2 * PERIOD
const DEG = Math.PI / 180

type Tick = Extract<BenchEvent, { kind: 'tick' }>

const ticksOf = (folder: string): Tick[] => eventsOf(folder).filter((e): e is Tick => e.kind === 'tick')

function named(findings: readonly Finding[], place: string, watch: string): Finding {
  const found = findings.find((f) => f.place === place && f.watch === watch && f.severity === 'failure')
  expect(
    found,
    `a failure of ${watch} that names ${place} among ${JSON.stringify(findings.map((f) => [f.watch, f.place, f.quantity]))}`,
  ).toBeDefined()
  return found!
}

describe.each(SCENARIOS)('%s, broken', (name) => {
  const out = temporaryFolder()

  it('a speed limit lowered to half of what the scenario uses', async () => {
    const { rig, ...good } = await goodRun(out, name)
    const { joint, speed } = fastest(ticksOf(good.folder))
    const limit = Math.round(speed / DEG / 2)
    const { verdict, folder } = await play(
      out,
      lowerSpeed(rig.joints[joint]!.name, limit),
      scenarioText(name),
    )
    expect(verdict.outcome).toBe('fail')
    const finding = named(verdict.findings, rig.joints[joint]!.name, 'gate')
    expect(finding.limit).toBeCloseTo(limit * DEG, 9)
    expect(finding.value).toBeGreaterThan(limit * DEG)
    const first = speeds(ticksOf(folder), joint).find((s) => s.speed > limit * DEG)!
    expect(Math.abs(finding.t - first.t)).toBeLessThanOrEqual(TWO_TICKS)
  })

  it("a sign flipped in the simulated arm's own truth", async () => {
    const rig = change(
      DEMO_RIG,
      /(starboard\.swing: \{[^}]*sign: )(-?)1/,
      (_, head, minus) => `${head}${minus ? '' : '-'}1`,
    )
    const { verdict, folder } = await play(out, rig, scenarioText(name))
    expect(verdict.outcome).toBe('fail')
    const finding = named(verdict.findings, 'starboard.swing', 'sense')
    expect(finding.limit).toBeCloseTo(2 * DEG, 9)
    expect(finding.value).toBeGreaterThan(2 * DEG)
    // Earliest effect: the first tick at which a feedback frame of the joint has come in and the eye sees another angle.
    const visible = firstFeedback(folder, 1, 0x180 + 11)
    const tick = ticksOf(folder).find((e) => e.t > visible && Math.abs(e.witness![6]!) > 1 * DEG)!
    expect(finding.t - tick.t).toBeLessThanOrEqual(TWO_TICKS)
  })

  it('the feedback of a joint cut', async () => {
    const cut = '{ at: "2 s", fault: silent, joint: starboard.shoulder }'
    const text = scenarioText(name)
    const broken = /^faults:/m.test(text)
      ? change(text, /^faults:\n/m, `faults:\n  - ${cut}\n`)
      : change(text, /^expect:/m, `faults:\n  - ${cut}\nexpect:`)
    const { verdict, folder } = await play(out, DEMO_RIG, broken)
    expect(verdict.outcome).toBe('fail')
    const finding = named(verdict.findings, 'starboard.shoulder', 'silence')
    expect(finding.value).toBeGreaterThan(finding.limit)
    const fault = eventsOf(folder).find((e) => e.kind === 'fault')!
    // The SYNC after the fault is the first that is not answered; the tick after that one can see it.
    expect(finding.t - (fault.t + PERIOD)).toBeLessThanOrEqual(PERIOD + TWO_TICKS)
    expect(verdict.stop).toMatchObject({ source: 'silence', place: 'starboard.shoulder' })
  })
})

describe('expectations', () => {
  const out = temporaryFolder()

  it('an expected stop for another reason fails', async () => {
    const text = change(scenarioText('joint-silent'), /by: silence/, 'by: tracking')
    const { verdict } = await play(out, DEMO_RIG, text)
    expect(verdict.outcome).toBe('fail')
    expect(verdict.stop?.source).toBe('silence')
  })

  it('an expected stop of another joint fails', async () => {
    const text = change(scenarioText('joint-silent'), /(expect:[\s\S]*joint: )\S+/, '$1starboard.elbow')
    expect((await play(out, DEMO_RIG, text)).verdict.outcome).toBe('fail')
  })

  it('an expected stop that does not come fails', async () => {
    const text = change(scenarioText('joint-silent'), /faults:\n( {2}-.*\n)+/, '')
    const { verdict } = await play(out, DEMO_RIG, text)
    expect(verdict.outcome).toBe('fail')
    expect(verdict.stop).toBeNull()
  })

  it('an expected stop that comes too late fails', async () => {
    const text = change(scenarioText('joint-silent'), /within: "[^"]+"/, 'within: "1 ms"')
    expect((await play(out, DEMO_RIG, text)).verdict.outcome).toBe('fail')
  })

  it('a stop that nobody expected fails', async () => {
    const text = change(
      scenarioText('slow-ahead'),
      /^expect:/m,
      'operator:\n  - { at: "5 s", do: stop }\nexpect:',
    )
    const { verdict } = await play(out, DEMO_RIG, text)
    expect(verdict).toMatchObject({ outcome: 'fail', ended: 'stopped', stop: { source: 'operator' } })
  })
})

/** Time of the first frame with this identifier on a bus. */
function firstFeedback(folder: string, bus: number, id: number): number {
  let first = Number.POSITIVE_INFINITY
  openRecording(folder).replay({
    frame: (b, frame, t) => {
      if (b === bus && frame.id === id && t < first) first = t
    },
    event: () => {},
  })
  return first
}

/** rad/s between the setpoints of neighbouring ticks. */
function speeds(ticks: readonly Tick[], joint: number): { t: number; speed: number }[] {
  return ticks.flatMap((tick, i) => {
    const before = ticks[i - 1]?.setpoints?.[joint]
    if (before === undefined || !tick.setpoints) return []
    return { t: tick.t, speed: Math.abs(tick.setpoints[joint]! - before) / 0.005 }
  })
}

function fastest(ticks: readonly Tick[]): { joint: number; speed: number } {
  const peaks = ticks
    .find((tick) => tick.setpoints)!
    .setpoints!.map((_, joint) => ({
      joint,
      speed: Math.max(...speeds(ticks, joint).map((s) => s.speed)),
    }))
  return peaks.reduce((most, p) => (p.speed > most.speed ? p : most))
}

/** The demo rig with another speed limit (deg/s) for one joint. */
function lowerSpeed(joint: string, limit: number): string {
  const [arm, name] = joint.split('.')
  const place = new RegExp(`(- name: ${arm}\\n {4}side:[\\s\\S]*?- name: ${name}\\n[\\s\\S]*?speed: )"[^"]+"`)
  return change(DEMO_RIG, place, `$1"${limit} deg/s"`)
}

async function goodRun(out: string, name: string) {
  const rig = loadRig(DEMO_RIG, 'rig.yaml', watchSchemas)
  return { rig, ...(await play(out, DEMO_RIG, scenarioText(name))) }
}
