/**
 * Every demo scenario, broken in three ways, must fail with a finding that names the joint, the limit and the time.
 * The time is held against the cause's earliest visible effect, worked out here from the recording's raw frames and
 * ticks, not by the watches.
 */
import { beforeAll, describe, expect, it } from 'vitest'
import type { BenchEvent, Finding } from '../../src/files/event.js'
import { loadRig } from '../../src/files/load.js'
import { openRecording } from '../../src/record/read.js'
import { watchSchemas } from '../../src/watch/settings.js'
import {
  change,
  DEMO_RIG,
  eventsOf,
  play,
  played,
  SCENARIOS,
  scenarioText,
  temporaryFolder,
} from '../setup/runs.js'

const PERIOD = 5e6
const TWO_TICKS = 2 * PERIOD
const DEG = Math.PI / 180
const JOINTS = loadRig(DEMO_RIG, 'rig.yaml', watchSchemas).joints.map((j) => j.name)
const EVERY = JOINTS.map((_, j) => j)
/** Half of what these accelerate by is so little that encoder noise hides it: the run must say so, whatever else it says. */
const IN_THE_NOISE = ['crawl']
const BIG = EVERY.filter((j) => /swing|shoulder|elbow/.test(JOINTS[j]!))

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
  let good: Tick[]

  beforeAll(async () => {
    good = ticksOf((await played(DEMO_RIG, scenarioText(name))).folder)
  })

  it.each([
    { quantity: 'speed', unit: 'deg/s', of: speeds, joints: EVERY },
    // Those with encoders fine enough for an acceleration limit this low.
    { quantity: 'acceleration', unit: 'deg/s2', of: accelerations, joints: BIG },
  ] as const)(
    'the limit of $quantity lowered to half of what the scenario uses',
    async ({ quantity, unit, of, joints }) => {
      const { joint, value } = greatest(joints, (j) => of(good, j))
      const limit = Math.round(value / DEG / 2)
      const place = JOINTS[joint]!
      const { verdict, folder } = await play(
        out,
        limited(place, quantity, `${limit} ${unit}`),
        scenarioText(name),
      )
      expect(verdict.outcome).toBe('fail')
      if (quantity === 'acceleration' && IN_THE_NOISE.includes(name)) {
        const doubt = verdict.findings.find((f) => f.severity === 'doubt')
        expect(doubt).toMatchObject({
          place,
          quantity: 'noise floor of acceleration',
          limit: expect.closeTo((limit * DEG) / 4, 9),
        })
        expect(doubt!.value).toBeGreaterThan((limit * DEG) / 4)
        return
      }
      const finding = named(verdict.findings, place, 'gate')
      expect(finding.quantity).toBe(`setpoint ${quantity}`)
      expect(finding.limit).toBeCloseTo(limit * DEG, 9)
      expect(finding.value).toBeGreaterThan(limit * DEG)
      const first = of(ticksOf(folder), joint).find((s) => s.value > limit * DEG)!
      expect(Math.abs(finding.t - first.t)).toBeLessThanOrEqual(TWO_TICKS)
    },
  )

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
    expect(Math.abs(finding.t - tick.t)).toBeLessThanOrEqual(TWO_TICKS)
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
    // The SYNC of the fault's own tick is the first that is not answered; feedback may be three periods old (README).
    const last = lastFeedback(folder, 1, 0x180 + 12)
    expect(Math.abs(last - fault.t)).toBeLessThanOrEqual(PERIOD)
    expect(finding.t).toBeGreaterThanOrEqual(last + 3 * PERIOD)
    expect(finding.t - (last + 3 * PERIOD)).toBeLessThanOrEqual(TWO_TICKS)
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
    expect(verdict.sentence).toMatch(/^Fail: a stop by operator at 5\.000 s, which nobody expected: /)
  })
})

describe('the limits watch stops what no gate can see: setpoints are good, the joint is not', () => {
  const out = temporaryFolder()
  const ELBOW = JOINTS.indexOf('port.elbow')
  // deg, position = (counts - 20480) / 131072 turns
  const degrees = (counts: number): number => ((counts - 20480) / 131072) * 360

  it('a joint that swings beyond its acceleration limit', async () => {
    const limit = 690
    const stiff = limited('port.elbow', 'acceleration', `${limit} deg/s2`)
    const soft = change(
      stiff,
      /servo: \{.*\}/,
      'servo: { frequency: "6 Hz", damping: 0.05, feedforward: "50 %" }',
    )
    expect((await play(out, stiff, scenarioText('slow-ahead'))).verdict.outcome).toBe('pass')
    const { verdict, folder } = await play(out, soft, scenarioText('slow-ahead'))
    expect(greatest([ELBOW], (j) => accelerations(ticksOf(folder), j)).value).toBeLessThan(limit * DEG)
    expect(verdict).toMatchObject({ outcome: 'fail', stop: { source: 'limits', place: 'port.elbow' } })
    const finding = named(verdict.findings, 'port.elbow', 'limits')
    expect(finding.quantity).toBe('acceleration')
    expect(finding.limit).toBeCloseTo(limit * DEG, 9)
    const seen = feedback(folder, 0, 0x180 + 13).map((f) => ({ t: f.t, value: degrees(f.counts) }))
    const first = secondDerivatives(seen).find((a) => Math.abs(a.value) > limit)!
    expect(finding.value / DEG).toBeCloseTo(Math.abs(first.value), 3)
    expect(Math.abs(finding.t - first.t)).toBeLessThanOrEqual(TWO_TICKS)
    expect(verdict.stop!.t).toBe(finding.t)
  })

  it('an encoder that jumps beyond the position limit, when nothing else minds', async () => {
    // No eye that sees the true angle, no following error, and a leap is none: the position alone.
    const alone = change(
      DEMO_RIG,
      'watch: {}',
      'watch: { sense: { witness: "90 deg" }, tracking: { window: "90 deg" }, feedback: { leap: 100 } }',
    )
    const jump = 'faults:\n  - { at: "6 s", fault: offset, joint: port.elbow, angle: "80 deg" }\nexpect:'
    const { verdict, folder } = await play(out, alone, change(scenarioText('slow-ahead'), /^expect:/m, jump))
    expect(verdict).toMatchObject({ outcome: 'fail', stop: { source: 'limits', place: 'port.elbow' } })
    const finding = verdict.findings.find((f) => f.watch === 'limits' && f.quantity === 'position')!
    expect(finding).toMatchObject({ place: 'port.elbow', severity: 'failure' })
    expect(finding.limit / DEG).toBeCloseTo(150, 9)
    const first = feedback(folder, 0, 0x180 + 13).find((f) => degrees(f.counts) > 150)!
    expect(finding.value / DEG).toBeCloseTo(degrees(first.counts), 9)
    expect(Math.abs(finding.t - first.t)).toBeLessThanOrEqual(TWO_TICKS)
    expect(first.t).toBeGreaterThanOrEqual(eventsOf(folder).find((e) => e.kind === 'fault')!.t)
  })
})

describe('several watches that mind the same frame', () => {
  const out = temporaryFolder()

  it('the stop is put down to the finding that came first', async () => {
    const jump =
      'faults:\n  - { at: "6 s", fault: offset, joint: starboard.pitch, angle: "-95 deg" }\nexpect:'
    const { verdict } = await play(out, DEMO_RIG, change(scenarioText('slow-ahead'), /^expect:/m, jump))
    const asking = verdict.findings.filter((f) => f.stop !== null && f.t === verdict.stop!.t)
    expect(new Set(asking.map((f) => f.watch)).size).toBeGreaterThan(1)
    expect(verdict.stop).toMatchObject({ source: asking[0]!.watch, place: asking[0]!.place })
  })
})

interface Feedback {
  readonly t: number
  readonly counts: number
}

/** Feedback frames of one drive on a bus: 6064h stands in bytes 2 to 5, little-endian, signed. */
function feedback(folder: string, bus: number, id: number): Feedback[] {
  const found: Feedback[] = []
  openRecording(folder).replay({
    frame: (b, { id: of, data }, t) => {
      if (b === bus && of === id) {
        found.push({ t, counts: new DataView(data.buffer, data.byteOffset).getInt32(2, true) })
      }
    },
    event: () => {},
  })
  return found
}

const firstFeedback = (folder: string, bus: number, id: number): number => feedback(folder, bus, id)[0]!.t
const lastFeedback = (folder: string, bus: number, id: number): number => feedback(folder, bus, id).at(-1)!.t

interface Sample {
  readonly t: number
  readonly value: number
}

/** rad/s between the setpoints of neighbouring ticks. */
function speeds(ticks: readonly Tick[], joint: number): Sample[] {
  return ticks.flatMap((tick, i) => {
    const before = ticks[i - 1]?.setpoints?.[joint]
    if (before === undefined || !tick.setpoints) return []
    return { t: tick.t, value: Math.abs(tick.setpoints[joint]! - before) / 0.005 }
  })
}

/** rad/s2 of three setpoints in a row. */
function accelerations(ticks: readonly Tick[], joint: number): Sample[] {
  return ticks.flatMap((tick, i) => {
    const [b, a] = [ticks[i - 1]?.setpoints?.[joint], ticks[i - 2]?.setpoints?.[joint]]
    if (a === undefined || b === undefined || !tick.setpoints) return []
    return { t: tick.t, value: Math.abs(tick.setpoints[joint]! - 2 * b + a) / 0.005 ** 2 }
  })
}

/**
 * Second derivative by a parabola through nine points; told at the last of them. Weights: A. Savitzky and M. J. E. Golay,
 * Analytical Chemistry 36(8):1627-1639 (1964), table of second derivatives, from memory; they give 0 for a line and 2 for
 * x^2.
 */
function secondDerivatives(samples: readonly Sample[]): Sample[] {
  const weights = [28, 7, -8, -17, -20, -17, -8, 7, 28]
  return samples.slice(8).map(({ t }, i) => ({
    t,
    value: weights.reduce((sum, w, k) => sum + w * samples[i + k]!.value, 0) / 462 / 0.005 ** 2,
  }))
}

function greatest(joints: readonly number[], of: (joint: number) => readonly Sample[]) {
  const peaks = joints.map((joint) => ({ joint, value: Math.max(...of(joint).map((s) => s.value)) }))
  return peaks.reduce((most, p) => (p.value > most.value ? p : most))
}

/** The demo rig with another limit for one joint. */
function limited(joint: string, quantity: 'speed' | 'acceleration', limit: string): string {
  const [arm, name] = joint.split('.')
  const place = new RegExp(
    `(- name: ${arm}\\n {4}side:[\\s\\S]*?- name: ${name}\\n[\\s\\S]*?[ {]${quantity}: )"[^"]+"`,
  )
  return change(DEMO_RIG, place, `$1"${limit}"`)
}
