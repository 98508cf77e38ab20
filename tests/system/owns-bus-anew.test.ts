/**
 * A driver that owns the buses, when a run is started anew after a stop: nothing of what was before comes back, and what goes wrong
 * again is a stop again. On mock buses in virtual time.
 */
import { describe, expect, it } from 'vitest'
import { DrystrokeError } from '../../src/errors.js'
import { OwnedBench, type OwnedOptions } from '../setup/owned-bench.js'
import { DEMO_RIG } from '../setup/runs.js'

const AT_REST = { surge: 0, yaw: 0 }

/** Stopped at 1.5 s by the operator if he is to; the start again, asked for at 5.4 s, with a command that is still in force. */
const anew = (stops: boolean): string => `name: again
about: A slow stroke ahead, a stop, and a new start.
duration: "20 s"
commands:
  - { at: "0.2 s", surge: "0.2 m/s", yaw: "0 deg/s", over: "0.5 s" }
operator:
${stops ? '  - { at: "1.5 s", do: stop }' : ''}
  - { at: "5 s", do: release }
  - { at: "5.2 s", do: reset }
  - { at: "5.4 s", do: start }
expect: { outcome: stop, by: ${stops ? 'operator' : 'driver, after: "1 s"'}, within: "50 ms", still: "1 s", no-motion: true }
`
const start = (scenario: string, options: Partial<OwnedOptions> = {}): OwnedBench =>
  new OwnedBench({ rigText: DEMO_RIG, scenario, ...options })

const lost = (says: string) => new DrystrokeError('driver-lost', says)
const stops = ({ events }: OwnedBench) => events.filter((e) => e.kind === 'stop').map((e) => e.says)
const troubles = ({ events }: OwnedBench) => events.flatMap((e) => (e.kind === 'driver' ? [e.says] : []))
const stageSince = (run: OwnedBench, stage: string, times: number) => () =>
  run.stages.filter((s) => s === stage).length === times

it('is met anew, and not asked for what was in force before the stop', () => {
  const run = start(anew(true))
  run.until(stageSince(run, 'stopped', 1))
  expect(run.met).toBe(0)
  run.until(stageSince(run, 'approach', 2))
  expect(run.met).toBe(1)
  const led: unknown[] = []
  run.until(() => {
    if (run.bench.stage === 'approach' && run.command !== led.at(-1)) led.push(run.command)
    return run.stages.filter((s) => s === 'play').length === 2
  })
  expect(led).toEqual([AT_REST])
  // On its way to its start it needs its time again.
  const [approach, play] = ['approach', 'play'].map(
    (stage) => run.events.filter((e) => e.kind === 'stage' && e.stage === stage)[1]!.t,
  )
  expect(play! - approach!).toBeGreaterThan(4e9)
  expect(stops(run)).toHaveLength(1)
})

describe('a driver that is lost', () => {
  it('and comes back may be lost a second time, and that is a second stop', () => {
    const run = start(anew(false))
    run.at(1.5)
    run.trouble = lost('the line was cut')
    run.until(stageSince(run, 'stopped', 1))
    expect(stops(run)).toEqual(['the line was cut'])
    // It is back, before the operator starts anew.
    run.trouble = null
    run.until(stageSince(run, 'play', 2))
    run.trouble = lost('the line was cut again')
    const at = run.now
    run.until(stageSince(run, 'stopped', 2))
    expect(stops(run)).toEqual(['the line was cut', 'the line was cut again'])
    expect(troubles(run)).toEqual(['the line was cut', 'the line was cut again'])
    expect(run.events.findLast((e) => e.kind === 'stop')!.t - at).toBeLessThanOrEqual(5e6)
    expect(run.powered()).toBe(0)
  })

  it('and stays away is told so again by the new start, which nothing comes of', () => {
    const run = start(anew(false))
    run.at(1.5)
    run.trouble = lost('the line was cut')
    run.until(stageSince(run, 'stopped', 2))
    expect(run.stages.slice(run.stages.indexOf('stopped'))).toEqual([
      'stopped',
      'setup',
      'stopping',
      'stopped',
    ])
    expect(troubles(run)).toEqual(['the line was cut', 'the line was cut'])
    expect(run.powered()).toBe(0)
  })

  it('and whose process has ended is not started anew', () => {
    const run = start(anew(false))
    run.at(1.5)
    run.dead = true
    run.until(() => run.events.some((e) => e.kind === 'operator' && e.action === 'start'))
    expect(run.events.filter((e) => e.kind === 'refused').map((e) => e.what)).toContain('start')
    run.toTheEnd()
    expect(run.stages.filter((s) => s === 'setup')).toHaveLength(1)
  })
})

it('has a minute from the new start on, and what its drives said before that does not count', () => {
  // A process of the run's own would be ended for falling silent after the stop.
  const run = start(anew(true), { ours: false })
  // Late from the first, so that the minute of the first start is over before that of the second.
  run.frozen = true
  run.until(() => run.now > 50e9)
  run.frozen = false
  run.until(stageSince(run, 'stopped', 1))
  run.frozen = true
  run.until(stageSince(run, 'setup', 2))
  const at = run.now
  run.until(stageSince(run, 'stopping', 2))
  expect((run.now - at) / 1e9).toBeCloseTo(60, 1)
  expect(run.events.find((e) => e.kind === 'refusal')).toMatchObject({
    place: 'port.swing',
    expected: 'feedback within 60 s',
  })
})
