/**
 * One bus is lost in mid-drive, in each way in which a mock bus can be lost: the other bus's arm is stopped by bus at once,
 * the arm that nobody reaches stops by its drives' own watchdogs, and when the bus comes back nothing moves by itself.
 *
 * Read from raw frames and from the simulated arms' true positions, not from the watches.
 */
import { beforeAll, describe, expect, it } from 'vitest'
import type { BenchEvent } from '../../src/files/event.js'
import { openRecording } from '../../src/record/read.js'
import type { Verdict } from '../../src/verdict/verdict.js'
import { change, DEMO_RIG, eventsOf, play, scenarioText, temporaryFolder } from '../setup/runs.js'

const MS = 1e6
const PERIOD = 5 * MS
const DEG = Math.PI / 180
const QUICK_STOP = 2

interface Sent {
  readonly t: number
  readonly bus: number
  readonly id: number
  readonly data: Uint8Array
}

type Tick = Extract<BenchEvent, { kind: 'tick' }>

const isControl = (f: Sent): boolean => f.id === 0x181
const isSetpoint = (f: Sent): boolean => f.id > 0x200 && f.id < 0x280

function sentIn(folder: string): Sent[] {
  const all: Sent[] = []
  openRecording(folder).replay({
    frame: (bus, { id, data }, t, sent) => {
      if (sent) all.push({ t, bus, id, data })
    },
    event: () => {},
  })
  return all
}

/** Joints of the demo rig on a bus. */
const jointsOf = (bus: number): number[] => [0, 1, 2, 3, 4, 5].map((j) => 6 * bus + j)

/** rad, the way of the joint that moves most from `from` to the end. */
function wayFrom(ticks: readonly Tick[], joints: readonly number[], from: number): number {
  const seen = ticks.filter((tick) => tick.t >= from).map((tick) => tick.witness!)
  return Math.max(...joints.map((j) => Math.max(...seen.map((w) => Math.abs(w[j]! - seen[0]![j]!)))))
}

// What nobody reaches: SYNC is missed after 5 periods (plant/watchdog.ts), and the quick stop from 300 deg/s at
// 1500 deg/s2 takes 200 ms.
const WATCHDOG = 25 * MS + 200 * MS

describe.each([
  { name: 'bus-down', lost: 1, back: true },
  { name: 'bus-unplugged', lost: 0, back: true },
  { name: 'bus-off', lost: 1, back: true },
  { name: 'bus-gone', lost: 0, back: false },
])('$name', ({ name, lost, back }) => {
  const out = temporaryFolder()
  let verdict: Verdict
  let events: BenchEvent[]
  let ticks: Tick[]
  let sent: Sent[]
  let fault: number

  beforeAll(async () => {
    // While the stop is latched a start is asked for, before the bus is back and after.
    const starts = 'operator:\n  - { at: "7 s", do: start }\n  - { at: "9 s", do: start }\nexpect:'
    const played = await play(out, DEMO_RIG, change(scenarioText(name), /^expect:/m, starts))
    verdict = played.verdict
    events = eventsOf(played.folder)
    ticks = events.filter((e): e is Tick => e.kind === 'tick')
    sent = sentIn(played.folder)
    fault = events.find((e) => e.kind === 'fault')!.t
  })

  it('stops by the bus watch within a tick, and names the bus', () => {
    expect(verdict.stop).toMatchObject({ source: 'bus', place: ['port-can', 'starboard-can'][lost] })
    expect(verdict.stop!.t - fault).toBeLessThan(PERIOD)
    expect(verdict.outcome).toBe('pass')
  })

  it("tells the other bus's drives to stop at once, and no setpoint leaves after that", () => {
    const after = sent.filter((f) => f.t >= verdict.stop!.t && (isSetpoint(f) || isControl(f)))
    const first = after.find((f) => f.bus === 1 - lost)!
    expect([first.id, first.data[0], first.t]).toEqual([0x181, QUICK_STOP, verdict.stop!.t])
    const setpoints = sent.filter((f) => isSetpoint(f) && f.t > verdict.stop!.t)
    expect(setpoints).toEqual([])
    // Quick stop and disable voltage only.
    expect(after.filter(isControl).every((f) => f.data[0]! <= QUICK_STOP)).toBe(true)
  })

  it('both arms were moving, and both are still: one by bus, one by its own watchdogs', () => {
    const before = ticks.filter((tick) => tick.t < fault && tick.t >= fault - 100 * MS)
    for (const bus of [0, 1]) {
      expect(wayFrom(before, jointsOf(bus), 0)).toBeGreaterThan(1 * DEG)
      expect(wayFrom(ticks, jointsOf(bus), fault + WATCHDOG)).toBeLessThan(0.1 * DEG)
    }
    // The lost arm went on for longer: nobody told it.
    expect(wayFrom(ticks, jointsOf(lost), fault + PERIOD)).toBeGreaterThan(0)
  })

  it('nothing moves when the bus comes back, or when a start is asked for while the stop is latched', () => {
    const changes = events.filter((e) => e.kind === 'bus' && e.place === verdict.stop!.place)
    expect(changes.some((e) => e.t > fault + 1000 * MS)).toBe(back)
    expect(events.filter((e) => e.kind === 'refused' && e.what === 'start')).toHaveLength(2)
    expect(verdict.ended).toBe('completed')
    expect(events.at(-1)!.t).toBeGreaterThan(fault + 5900 * MS)
    expect(wayFrom(ticks, [...jointsOf(0), ...jointsOf(1)], fault + 1500 * MS)).toBeLessThan(0.1 * DEG)
  })

  it('says the cause once, not a finding a joint', () => {
    expect(verdict.findings.length).toBeLessThanOrEqual(4)
    expect(new Set(verdict.findings.map((f) => f.place))).toEqual(new Set([verdict.stop!.place]))
  })
})

describe('a bus that is back', () => {
  const out = temporaryFolder()
  const again = (at: number) =>
    ['release', 'reset', 'start'].map((word, i) => `  - { at: "${at + i / 10} s", do: ${word} }`).join('\n')

  it('lets a new start run, from the measured pose, once the stop was released and reset', async () => {
    const text = change(scenarioText('bus-down'), /^expect:/m, `operator:\n${again(8.5)}\nexpect:`)
    const { verdict, folder } = await play(
      out,
      DEMO_RIG,
      change(text, /duration: "12 s"/, 'duration: "20 s"'),
    )
    const stages = eventsOf(folder).flatMap((e) => (e.kind === 'stage' ? [e.stage] : []))
    expect(stages.filter((s) => s === 'play')).toHaveLength(2)
    // The old command is void: it stands parked to the end.
    expect(verdict).toMatchObject({ ended: 'completed', outcome: 'pass' })
  })

  it.each(['bus-down', 'bus-gone', 'bus-unplugged'])(
    '%s: a start before that is stopped anew, and nothing moves',
    async (name) => {
      const text = change(scenarioText(name), /^expect:/m, `operator:\n${again(7)}\nexpect:`)
      const { verdict, folder } = await play(out, DEMO_RIG, text)
      const events = eventsOf(folder)
      const stops = events.filter((e) => e.kind === 'stop')
      expect(stops).toHaveLength(2)
      // With the release at 7 s already: what was stopped for is still there.
      expect(stops[1]!.t - stops[0]!.t).toBeGreaterThan(990 * MS)
      expect(events.filter((e) => e.kind === 'stage' && e.stage === 'play')).toHaveLength(1)
      const ticks = events.filter((e): e is Tick => e.kind === 'tick')
      expect(wayFrom(ticks, [...jointsOf(0), ...jointsOf(1)], stops[0]!.t + 1000 * MS)).toBeLessThan(
        0.1 * DEG,
      )
      expect(verdict.outcome).toBe('fail')
    },
  )
})

describe('a disturbed bus', () => {
  const out = temporaryFolder()

  it('goes on with few errors: they are told, and everything still arrives', async () => {
    const text = change(scenarioText('bus-disturbed'), /share: "25 %"/, 'share: "3 %"')
    const { verdict } = await play(out, DEMO_RIG, change(text, /lasts: "150 ms", /, ''))
    expect(verdict.stop).toBeNull()
    expect(verdict.findings.map((f) => [f.severity, f.quantity])).toEqual([['warning', 'bus trouble']])
    const figures = verdict.watches.find((w) => w.watch === 'bus')!.figures
    const count = figures.find((f) => f.place === 'port-can' && f.name === 'error frames reported')!
    expect(count.value).toBeGreaterThan(10)
    const lost = figures.filter((f) => f.name === 'feedback lost')
    expect(lost.every((f) => f.value === 0)).toBe(true)
  })

  it('is stopped by its setpoints that do not leave where an error-passive controller is only a warning', async () => {
    const rig = change(DEMO_RIG, 'watch: {}', 'watch: { bus: { passive: warning } }')
    const { verdict } = await play(out, rig, change(scenarioText('bus-unplugged'), /lasts: "2 s", /, ''))
    expect(verdict.stop).toMatchObject({
      source: 'bus',
      place: 'port-can',
      says: 'the bus did not send the setpoints of the last cycle in time',
    })
    expect(verdict.findings.every((f) => f.severity === 'warning')).toBe(true)
  })
})
