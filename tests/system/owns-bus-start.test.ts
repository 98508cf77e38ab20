/**
 * A driver that owns the buses, before the scenario begins: what the harness waits for, for how long, and what it refuses. On mock
 * buses in virtual time. The minute is the project's own rule.
 */
import { describe, expect, it } from 'vitest'
import { OwnedBench, type OwnedOptions } from '../setup/owned-bench.js'
import { change, DEMO_RIG } from '../setup/runs.js'

const SHORT = `name: short
about: A slow stroke ahead.
duration: "3 s"
commands: [{ at: "0.2 s", surge: "0.2 m/s", yaw: "0 deg/s", over: "0.5 s" }]
expect: { outcome: finish, strokes: [], parked: true }
`
const start = (options: Partial<OwnedOptions> = {}): OwnedBench =>
  new OwnedBench({ rigText: DEMO_RIG, scenario: SHORT, ...options })

const stopOf = (run: OwnedBench) => run.events.find((e) => e.kind === 'stop')!
const refusalOf = (run: OwnedBench) => run.events.find((e) => e.kind === 'refusal')

describe('a driver that does not come to where it should', () => {
  it('sets nothing up: no feedback comes, and after a minute that is refused', () => {
    const run = start()
    run.frozen = true
    run.until(() => run.bench.stage !== null && run.bench.stage !== 'setup')
    expect(run.bench.stage).toBe('stopping')
    expect(run.now / 1e9).toBeCloseTo(60, 1)
    expect(stopOf(run)).toMatchObject({ source: 'drive', place: 'port.swing' })
    expect(refusalOf(run)).toMatchObject({ place: 'port.swing', expected: 'feedback within 60 s' })
  })

  it('never enables its drives: likewise, and the state is told', () => {
    const run = start({ faults: { neverEnables: true } })
    run.until(() => run.bench.stage === 'stopping')
    expect(run.stages).toEqual(['setup', 'seed', 'enable', 'stopping'])
    expect(run.now / 1e9).toBeCloseTo(60, 1)
    expect(refusalOf(run)).toMatchObject({
      says: 'was not enabled by the driver',
      found: 'switch on disabled',
    })
  })

  it('never brings the arms to rest where it starts', () => {
    const run = start({ faults: { restless: 0.01 } })
    run.until(() => run.bench.stage === 'stopping')
    expect(run.stages.slice(-2)).toEqual(['approach', 'stopping'])
    expect(stopOf(run)).toMatchObject({
      source: 'driver',
      says: expect.stringContaining('had not brought the arms to rest where it starts within 60 s'),
    })
  })
})

it('what is there before it begins: an open box is a stop, and nothing moves', () => {
  const run = start({ boxed: true })
  run.bench.onContact('closed')
  run.until(() => run.bench.stage === 'setup')
  // Not heeded yet: until the set-up is done it may still settle.
  run.bench.onContact('open')
  run.until(() => run.bench.stage === 'stopping')
  expect(run.stages).toEqual(['setup', 'seed', 'enable', 'stopping'])
  expect(stopOf(run)).toMatchObject({ source: 'box' })
})

it('one that is not told orders is not asked for the proof of the stop path, which it would take for a stop', () => {
  const rigText = change(DEMO_RIG, 'sag: "1 deg"', 'sag: "1 deg"\n  prove: always')
  const run = start({ rigText, heeds: false })
  run.until(() => run.bench.stage === 'play')
  expect(run.stages).toEqual(['setup', 'seed', 'enable', 'approach', 'play'])
})

it('nobody holds a run that needs no holding', () => {
  const run = start()
  run.until(() => run.bench.stage === 'approach')
  run.bench.hold(true)
  run.bench.hold(false)
  run.until(() => run.bench.stage === 'play')
  expect(run.events.filter((e) => e.kind === 'hold' || e.kind === 'stop')).toEqual([])
})

describe('a person holds the approach', () => {
  const held = (): OwnedBench => {
    const run = start({ holdToRun: true })
    run.until(() => run.bench.stage === 'enable')
    run.until(() => run.now > 5e9)
    // All is enabled by now, and nobody holds the key.
    expect(run.bench.stage).toBe('enable')
    run.bench.hold(true)
    run.until(() => run.bench.stage === 'approach')
    return run
  }

  it('from its begin to its end', () => {
    const run = held()
    run.until(() => run.bench.stage === 'play')
    run.bench.hold(false)
    run.toTheEnd()
    expect(run.events.some((e) => e.kind === 'stop')).toBe(false)
  })

  it('and lets go of it: the driver cannot be paused, so that it is a stop', () => {
    const run = held()
    run.bench.hold(true)
    run.bench.hold(false)
    expect(run.bench.stage).toBe('stopping')
    expect(stopOf(run)).toMatchObject({ source: 'key' })
    expect(run.events.flatMap((e) => (e.kind === 'hold' ? [e.held] : []))).toEqual([false])
    run.toTheEnd()
    expect(run.powered()).toBe(0)
  })
})
