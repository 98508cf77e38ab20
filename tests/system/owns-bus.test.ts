/**
 * A driver that owns the buses, on mock buses in virtual time: what the harness sends beside it, what it sees, and how it stops
 * the arms, whatever the driver does then. Expectations by CiA 301 and CiA 402 (transitions of the state machine) from the
 * project's check table; what a driver may do after a stop is the project's own rule.
 */
import { describe, expect, it } from 'vitest'
import { DrystrokeError } from '../../src/errors.js'
import { toCounts } from '../../src/wire/cia402/scale.js'
import { OwnedBench, type OwnedOptions } from '../setup/owned-bench.js'
import { change, DEMO_RIG } from '../setup/runs.js'

const STOP_PDO = 0x181
const HEARTBEAT = 0x77f
const QUICK_STOP = 2
const DISABLE = 0

const scenario = (more: string, duration = 6): string => `name: short
about: A slow stroke ahead, for a driver that owns the buses.
duration: "${duration} s"
commands:
  - { at: "0.2 s", surge: "0.2 m/s", yaw: "0 deg/s", over: "0.5 s" }
  - { at: "4 s", surge: "0 m/s", yaw: "0 deg/s", over: "0.5 s" }
${more}
`
const CLEAN = scenario(
  'expect: { outcome: finish, strokes: [{ arm: port, direction: ahead, least: 1 }], parked: true }',
)
const OPERATOR = scenario(`operator:
  - { at: "2 s", do: stop }
expect: { outcome: stop, by: operator, within: "20 ms", still: "1 s", no-motion: true }`)
const stoppedBy = (source: string, place = ''): string =>
  scenario(
    `expect: { outcome: stop, by: ${source}${place}, after: "2 s", within: "200 ms", still: "1 s", no-motion: true }`,
  )

const start = (scenarioText: string, options: Partial<OwnedOptions> = {}): OwnedBench =>
  new OwnedBench({ rigText: DEMO_RIG, scenario: scenarioText, ...options })

/** Frames of the harness but its heartbeat: time since `from` (ms), bus, identifier, first byte. */
const said = (run: OwnedBench, from = 0) =>
  run.sent
    .filter(({ frame, t }) => frame.id !== HEARTBEAT && t >= from)
    .map(({ bus, frame, t }) => ({ ms: (t - from) / 1e6, bus, id: frame.id, word: frame.data[0] }))

const failures = (run: OwnedBench) =>
  run
    .verdict()
    .findings.filter((f) => f.severity === 'failure')
    .map((f) => `${f.watch}: ${f.quantity} ${f.place}`.trimEnd())
const stopAt = (run: OwnedBench): number => run.events.find((e) => e.kind === 'stop')!.t

describe('a driver that obeys', () => {
  it('plays a good run to its end, and the harness sends nothing but its heartbeat', () => {
    const run = start(CLEAN)
    run.toTheEnd()
    const verdict = run.verdict()
    expect(verdict.sentence).toMatch(/^Pass: /)
    expect(verdict.findings).toEqual([])
    expect(run.stages).toEqual(['setup', 'seed', 'enable', 'approach', 'play', 'park', 'disable', 'rest'])
    expect(said(run)).toEqual([])
    // At the very end nobody is to move anything any more.
    expect(run.orders).toEqual(['enable', 'follow', 'disable', 'stop'])
    expect(run.powered()).toBe(0)
    // Cycles count from when the drives are set up.
    const kinds = run.events.flatMap((e) =>
      e.kind === 'tick' ? ['tick'] : e.kind === 'stage' ? [e.stage] : [],
    )
    expect(kinds.slice(0, 4)).toEqual(['setup', 'seed', 'enable', 'tick'])
  })

  it('is stopped by the stop PDO alone; its SYNC lets the stop be watched', () => {
    const run = start(OPERATOR)
    run.toTheEnd()
    expect(run.verdict().sentence).toMatch(/^Pass: /)
    const at = stopAt(run)
    const after = said(run)
    expect(after.slice(0, 2)).toEqual([
      { ms: at / 1e6, bus: 0, id: STOP_PDO, word: QUICK_STOP },
      { ms: at / 1e6, bus: 1, id: STOP_PDO, word: QUICK_STOP },
    ])
    expect(new Set(after.map(({ id }) => id))).toEqual(new Set([STOP_PDO]))
    expect(after.at(-1)!.word).toBe(DISABLE)
    expect(run.silencedAt).toBeNull()
    expect(run.powered()).toBe(0)
    expect(run.orders).toEqual(['enable', 'follow', 'stop'])
  })

  it('enables the drives again after the proof of the stop path, and after a new start', () => {
    const anew = scenario(
      `operator:
  - { at: "1.5 s", do: stop }
  - { at: "5 s", do: release }
  - { at: "5.2 s", do: reset }
  - { at: "5.4 s", do: start }
expect: { outcome: stop, by: operator, within: "20 ms", still: "1 s", no-motion: true }`,
      12,
    )
    const run = start(anew, { rigText: change(DEMO_RIG, 'sag: "1 deg"', 'sag: "1 deg"\n  prove: always') })
    run.toTheEnd()
    expect(failures(run)).toEqual([])
    const upTo = ['setup', 'seed', 'enable']
    expect(run.stages).toEqual([
      ...upTo,
      'prove',
      ...upTo,
      ...['approach', 'play', 'stopping', 'stopped'],
      ...upTo,
      ...['approach', 'play', 'park', 'disable', 'rest'],
    ])
    const proven = run.judge.close().verdict.watches.find((w) => w.watch === 'proof')!.figures
    expect(proven[0]).toMatchObject({ name: 'stop path proven', value: 1 })
  })
})

it('hears no command while commands are withheld, and one at rest before and after them', () => {
  const run = start(
    scenario('expect: { outcome: finish, strokes: [], parked: true }').replace(
      /at: "4 s", .*/,
      'at: "1 s", ceases: true }',
    ),
  )
  const rest = { surge: 0, yaw: 0 }
  run.until(() => run.bench.stage === 'approach')
  expect(run.command).toEqual(rest)
  run.at(0.9)
  expect(run.command).toEqual({ surge: 0.2, yaw: 0 })
  run.at(1.1)
  expect(run.command).toBeNull()
  run.bench.onSignal('SIGTERM')
  run.until(() => run.bench.stage === 'stopped')
  expect(run.command).toEqual(rest)
})

describe('a driver that goes on after the stop', () => {
  it('with setpoints is ended, then the stop goes out again, and the harness keeps the drives reporting', () => {
    const run = start(OPERATOR, { faults: { ignoresStop: true } })
    run.toTheEnd()
    const at = stopAt(run)
    // The rule: 100 ms for what was under way.
    const silenced = run.silencedAt! - at
    expect(silenced).toBeGreaterThan(100e6)
    expect(silenced).toBeLessThan(110e6)
    const again = said(run, at).filter(({ ms }) => ms >= silenced / 1e6)
    expect(again.slice(0, 2).map(({ id, bus }) => [id, bus])).toEqual([
      [STOP_PDO, 0],
      [STOP_PDO, 1],
    ])
    expect(again.some(({ id }) => id === 0x80)).toBe(true)
    // NMT comes last of all, once nothing moves any more.
    expect(again.findIndex(({ id }) => id === 0)).toBeGreaterThanOrEqual(again.length - 2)
    expect(failures(run)).toEqual([
      expect.stringMatching(/^owner: driver after the stop (port|starboard)\.swing$/),
    ])
    expect(run.events.filter((e) => e.kind === 'silenced')).toHaveLength(1)
    expect(run.powered()).toBe(0)
    const rows = run.judge.close().verdict.expectations
    expect(rows.find((r) => r.expected.startsWith('still'))!.met).toBe(true)
  })

  it('with enables, in a process that is not ours, is told so at once, and is stopped again each time', () => {
    const run = start(OPERATOR, { faults: { enablesAgain: true }, ours: false })
    run.at(1.9)
    run.toTheEnd()
    const found = failures(run)
    expect(found).toContain('owner: driver after the stop port.swing')
    expect(found.filter((f) => f.startsWith('owner: enabled again')).length).toBe(12)
    expect(run.silencedAt).toBeNull()
    // Nothing on an identifier of the driver's, to the end.
    expect(new Set(said(run).map(({ id }) => id))).toEqual(new Set([STOP_PDO]))
    // Whenever a drive was enabled the stop followed.
    const first = run.verdict().findings.find((f) => f.quantity === 'enabled again')!
    const next = run.sent.find(({ frame, t }) => frame.id === STOP_PDO && t >= first.t)!
    expect(next.t - first.t).toBe(0)
    expect(run.bench.ended).toBe(true)
  })

  it('with enables, in a process of ours, is ended before it can', () => {
    const run = start(OPERATOR, { faults: { enablesAgain: true } })
    run.toTheEnd()
    expect(run.silencedAt).not.toBeNull()
    expect(run.powered()).toBe(0)
  })
})

describe("a driver that changes its drives' set-up while the arms move", () => {
  // CiA 301, 7.2.4.3.3: 2Bh begins an expedited download of two bytes; 40h an upload, which reads.
  const [WRITE, READ] = [0x2b, 0x40]

  it('is stopped when a stop hangs on it: here the quick stop option code', () => {
    const run = start(stoppedBy('owner', ', joint: starboard.swing'))
    run.at(2)
    run.say(1, 0x60b, [WRITE, 0x5a, 0x60, 0, 0, 0, 0, 0])
    const at = run.now
    run.toTheEnd()
    expect(stopAt(run) - at).toBeLessThan(5e6)
    expect(failures(run)).toEqual(['owner: set-up in motion starboard.swing'])
    expect(run.powered()).toBe(0)
    // Trusted no more, it was ended.
    expect(run.silencedAt).not.toBeNull()
  })

  it('is warned of otherwise, and may read', () => {
    const run = start(CLEAN)
    run.at(2)
    run.say(0, 0x60c, [READ, 0x5a, 0x60, 0, 0, 0, 0, 0])
    run.say(0, 0x60b, [WRITE, 0x72, 0x60, 0, 0xe8, 3, 0, 0])
    run.toTheEnd()
    const verdict = run.verdict()
    expect(verdict.sentence).toMatch(/^Pass: /)
    expect(verdict.findings.map((f) => [f.severity, f.watch, f.place])).toEqual([
      ['warning', 'owner', 'port.swing'],
    ])
  })
})

describe('a setpoint of the driver outside the range of its joint', () => {
  // Nobody stands between: no gate, only the watch that sees it on the bus.
  it.each(['approach', 'play', 'park'] as const)(
    'in the stage %s is found as it comes, and stops the arms',
    (stage) => {
      const run = start(scenario('expect: { outcome: finish, strokes: [], parked: true }'))
      run.until(() => run.bench.stage === stage)
      run.until(() => run.now - run.events.findLast((e) => e.kind === 'stage')!.t > 3e8)
      const [joint] = run.table.rig.joints
      const { wire, limits } = joint!
      if (wire.protocol !== 'cia402') throw new Error('not the demo rig')
      const counts = toCounts(wire, limits.upper + 0.02)
      const at = run.now
      run.say(
        wire.bus,
        0x200 + wire.node,
        [0, 8, 16, 24].map((bit) => (counts >> bit) & 0xff),
      )
      run.toTheEnd()
      expect(run.events.find((e) => e.kind === 'stop')).toMatchObject({
        source: 'setpoints',
        place: joint!.name,
      })
      // With the frame itself, before a SYNC makes it act.
      expect(stopAt(run) - at).toBeLessThan(1e6)
      expect(failures(run)[0]).toBe(`setpoints: setpoint position ${joint!.name}`)
      const seen = run.verdict().watches.find((w) => w.watch === 'limits')!.figures
      expect(seen.find((f) => f.place === joint!.name && f.name === 'highest position')!.value).toBeLessThan(
        limits.upper,
      )
      expect(run.powered()).toBe(0)
    },
  )
})

describe('a driver that is lost in a run', () => {
  it('ends: the arms are stopped in the next tick, and the harness gives SYNC', () => {
    const run = start(CLEAN)
    run.at(2)
    run.dead = true
    const at = run.now
    run.toTheEnd()
    expect(stopAt(run) - at).toBeLessThanOrEqual(5e6)
    expect(run.events.find((e) => e.kind === 'stop')).toMatchObject({ source: 'driver' })
    expect(failures(run)).toEqual(['driver: driver-gone'])
    expect(run.powered()).toBe(0)
    // Nobody is told anything any more, and SYNC goes on without it.
    expect(run.orders).toEqual(['enable', 'follow'])
    expect(said(run, at + 5e6).filter(({ id }) => id === 0x80).length).toBeGreaterThan(100)
    expect(run.verdict().sentence).toMatch(/^Fail: .*the process of the driver has ended/)
  })

  it('by a way that breaks: the arms are stopped, and its end after that is no second failure', () => {
    const run = start(CLEAN)
    run.at(1)
    run.trouble = new DrystrokeError('driver-lost', 'the line was cut')
    const at = run.now
    run.until(() => run.bench.stage === 'stopping')
    expect(run.now - at).toBeLessThanOrEqual(5e6)
    expect(stopAt(run) - at).toBeLessThanOrEqual(5e6)
    run.dead = true
    run.toTheEnd()
    expect(failures(run)).toEqual(['driver: driver-lost'])
    expect(run.powered()).toBe(0)
  })

  it.each(['disable', 'rest'] as const)(
    'once its torque goes (%s), whichever way: nothing is wrong with that',
    (stage) => {
      const run = start(scenario('expect: { outcome: finish, strokes: [], parked: true }', 5))
      run.until(() => run.bench.stage === stage)
      if (stage === 'rest') {
        run.until(() => run.now - run.events.findLast((e) => e.kind === 'stage')!.t > 1e8)
        expect(run.orders.at(-1)).toBe('disable')
      }
      run.trouble = new DrystrokeError('driver-lost', 'the line was cut')
      // Before that its drives miss it, and say so.
      run.dead = stage === 'rest'
      run.toTheEnd()
      expect(run.verdict().sentence).toMatch(/^Pass: /)
      expect(failures(run)).toEqual([])
      expect(run.events.some((e) => e.kind === 'stop')).toBe(false)
    },
  )

  it('ends before it has taken the torque away: that its drives missed it is told, and it is looked for no further', () => {
    const run = start(scenario('expect: { outcome: finish, strokes: [], parked: true }', 5))
    run.until(() => run.bench.stage === 'disable')
    run.dead = true
    run.toTheEnd()
    expect(new Set(failures(run).map((f) => f.split(':')[0]))).toEqual(new Set(['drive']))
    expect(run.powered()).toBe(0)
  })

  it.each([
    ['setpoints', 'which do not miss it themselves', change(DEMO_RIG, 'watchdog: true', 'watchdog: false')],
    ['drive', 'which miss it a tick earlier themselves', DEMO_RIG],
  ])(
    'freezes: it is missed by the watch %s, with drives %s; it is ended, and wakes no more',
    (source, _, rigText) => {
      const run = start(stoppedBy(source), { rigText })
      run.at(2)
      run.frozen = true
      const at = run.now
      run.toTheEnd()
      expect(run.events.find((e) => e.kind === 'stop')).toMatchObject({ source })
      // Five periods of 5 ms, four of the drives' own, seen at the next tick.
      expect(stopAt(run) - at).toBeGreaterThan(source === 'drive' ? 15e6 : 20e6)
      expect(stopAt(run) - at).toBeLessThanOrEqual(36e6)
      expect(run.silencedAt).not.toBeNull()
      // On both buses, and told once.
      expect(run.events.filter((e) => e.kind === 'silenced')).toHaveLength(1)
      expect(run.powered()).toBe(0)
    },
  )
})

describe('the identifier of the stop', () => {
  it('is nobody else: a driver that sends on it is stopped, and ended when it goes on', () => {
    const run = start(stoppedBy('bus', ', bus: port-can'))
    run.at(2)
    run.say(0, STOP_PDO, [0x0f, 0])
    run.until(() => run.bench.stage === 'stopping')
    expect(run.silencedAt).toBeNull()
    run.say(0, STOP_PDO, [0x0f, 0])
    run.until(() => run.silencedAt !== null)
    run.toTheEnd()
    expect(failures(run)).toContain('bus: second sender port-can')
    expect(failures(run)).toContain('owner: driver after the stop port-can')
    expect(run.powered()).toBe(0)
  })

  it('that no drive listens to shows in the proof, before anything moves; the driver is ended, and SDO is left', () => {
    // Drives that do not stop by themselves either when setpoints cease.
    const proving = change(DEMO_RIG, 'sag: "1 deg"', 'sag: "1 deg"\n  prove: always')
    const run = start(CLEAN, {
      faults: { noStopPdo: true },
      rigText: change(proving, 'watchdog: true', 'watchdog: false'),
    })
    const before = run.positions()
    run.toTheEnd()
    expect(run.stages).not.toContain('approach')
    expect(run.events.find((e) => e.kind === 'stop')).toMatchObject({ source: 'drive' })
    expect(run.silencedAt).not.toBeNull()
    expect(run.events.filter((e) => e.kind === 'silenced')).toHaveLength(1)
    expect(
      run.sent.some(({ frame }) => frame.id === 0x60b && frame.data[1] === 0x40 && frame.data[2] === 0x60),
    ).toBe(true)
    expect(run.powered()).toBe(0)
    const moved = Math.max(...run.positions().map((q, j) => Math.abs(q - before[j]!)))
    expect(moved).toBeLessThan(0.02)
  })
})
