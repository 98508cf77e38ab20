import { describe, expect, it } from 'vitest'
import type { StoppingWatch } from '../../../src/watch/stopping.js'
import type { DriveState } from '../../../src/wire/observation.js'
import { PERIOD } from './rig.js'
import { NS, type Transcript, told, watching } from './transcript.js'

const SPEED = 0.5
const DECELERATION = 5
/** s and rad from the stop to rest */
const STOP_TIME = SPEED / DECELERATION
const STOP_WAY = (SPEED * SPEED) / (2 * DECELERATION)
const moving = { feedback: (_: number, k: number) => SPEED * (k - 100) * PERIOD }
/** Slows down from cycle 100 on. */
const slowing = (k: number): number => {
  const s = Math.max(0, (k - 100) * PERIOD)
  return s < STOP_TIME ? SPEED * s - 0.5 * DECELERATION * s * s : STOP_WAY
}
const rest = { feedback: (_: number, k: number) => slowing(k) }
const restBut = (joint: number, other: (k: number) => number | null) => ({
  feedback: (j: number, k: number) => (j === joint ? other(k) : slowing(k)),
})
const states = (run: Transcript, state: DriveState, except = -1): Transcript => {
  for (const { index: joint } of run.rig.joints) {
    if (joint !== except) run.see({ kind: 'state', t: run.t, joint, state, follows: false, word: 0 })
  }
  return run
}
/** Moves, and is stopped at cycle 100. */
function stopped(source?: string, place?: string) {
  const watched = watching('stopping')
  states(watched.run, 'operation enabled')
    .stage('play')
    .cycles(100, moving)
    .stop(source, place)
    .stage('stopping')
  return { ...watched, stopping: watched.watch as StoppingWatch }
}

describe('stopping watch', () => {
  it('has nothing to say without a stop', () => {
    const { run, watch, findings } = watching('stopping')
    run.stage('play').cycles(500, moving).see({ kind: 'end', t: run.t, reason: 'completed' })
    watch.close()
    expect(findings).toEqual([])
    expect(watch.figures()).toEqual([])
  })

  it('measures time and travel from the stop to still, and the sag after', () => {
    const { run, findings, figure, watch, stopping } = stopped()
    states(run.cycles(30, rest), 'switch on disabled').cycles(70, rest)
    expect(stopping.toStill).not.toBeNull()
    const sagged = { feedback: () => STOP_WAY + 0.01 }
    run.cycles(600, sagged).see({ kind: 'end', t: run.t, reason: 'completed' })
    watch.close()
    expect(findings).toEqual([])
    // Still has a band of speed x hold: the joint is in it a little before it rests.
    expect(stopping.toStill).toBeGreaterThan(STOP_TIME - 0.03)
    expect(stopping.toStill).toBeLessThan(STOP_TIME + 0.01)
    expect(figure('port.roll', 'travel to still')).toBeCloseTo(STOP_WAY + SPEED * PERIOD, 3)
    expect(figure('port.roll', 'sag after still')).toBeCloseTo(0.01, 3)
    expect(figure('port.roll', 'motion after that')).toBe(0)
    expect(stopping.moved).toBe(false)
  })

  it('takes rest before the stop for no time to still', () => {
    const { run, stopping } = (() => {
      const w = watching('stopping')
      w.run
        .stage('play')
        .cycles(100, { feedback: () => 0.2 })
        .stop()
      return { ...w, stopping: w.watch as StoppingWatch }
    })()
    run.cycles(50, { feedback: () => 0.2 })
    expect(stopping.toStill).toBe(0)
  })

  it('fails a joint that is not still in time', () => {
    const { run, findings, stopping } = stopped()
    run.cycles(
      400,
      restBut(4, (k) => slowing(k) + 0.05 * (k - 100) * PERIOD),
    )
    expect(told(findings.filter((f) => f.quantity === 'time to still'))).toEqual([
      'failure starboard.pitch time to still',
    ])
    const found = findings.find((f) => f.quantity === 'time to still')!
    // Time-out 1 s, hold 100 ms, margin 200 ms.
    expect(found.t).toBe((100 + 261) * NS)
    expect(stopping.toStill).toBeNull()
  })

  it('fails a drive that keeps its torque', () => {
    const { run, findings } = stopped()
    states(run.cycles(30, rest), 'switch on disabled', 2).cycles(400, rest)
    expect(told(findings)).toEqual(['failure port.feather drive state after the stop'])
  })

  it('fails sag beyond its limit', () => {
    const { run, findings } = stopped()
    states(run.cycles(100, rest), 'switch on disabled')
    run.cycles(
      300,
      restBut(1, (k) => STOP_WAY + 0.02 * (k - 200) * PERIOD),
    )
    expect(told(findings)).toEqual(['failure port.pitch sag'])
    expect(findings[0]!.value).toBeGreaterThan(0.0175)
    expect(findings[0]!.value).toBeLessThan(0.018)
  })

  it('fails motion after the sag window, through release and reset', () => {
    const { run, findings, stopping } = stopped()
    states(run.cycles(30, rest), 'switch on disabled').cycles(570, rest)
    run.see({ kind: 'release', t: run.t }).see({ kind: 'reset', t: run.t }).cycles(100, rest)
    expect(findings).toEqual([])
    run.cycles(
      10,
      restBut(3, () => STOP_WAY + 0.009),
    )
    expect(told(findings)).toEqual(['failure starboard.roll motion after the stop'])
    expect(stopping.moved).toBe(true)
  })

  it('takes motion for motion from the release on, not for sag', () => {
    const { run, findings } = stopped()
    states(run.cycles(100, rest), 'switch on disabled').see({ kind: 'release', t: run.t })
    run.cycles(
      10,
      restBut(3, () => STOP_WAY + 0.009),
    )
    expect(told(findings)).toEqual(['failure starboard.roll motion after the stop'])
  })

  it('lets the arms move again after a new start-up', () => {
    const { run, findings, watch } = stopped()
    states(run.cycles(30, rest), 'switch on disabled')
      .cycles(570, rest)
      .stage('seed')
      .cycles(10, rest)
      .stage('play')
      .cycles(500, moving)
    watch.close()
    expect(findings).toEqual([])
  })

  it('doubts a stop that a new start-up cut short', () => {
    const { run, findings } = stopped()
    states(run.cycles(30, rest), 'switch on disabled').cycles(20, rest).stage('seed')
    expect(findings).toHaveLength(6)
    expect(findings[0]).toMatchObject({ severity: 'doubt', says: expect.stringMatching(/sag/) })
  })

  it('doubts a stop whose feedback was lost, but not for the joint that the stop names', () => {
    const silent = restBut(2, () => null)
    const other = stopped('operator')
    states(other.run, 'switch on disabled').cycles(600, silent)
    expect(told(other.findings)).toEqual(['doubt port.feather feedback after the stop'])
    expect(other.stopping.toStill).toBeNull()

    const named = stopped('silence', 'port.feather')
    states(named.run, 'switch on disabled').cycles(600, silent)
    named.watch.close()
    expect(named.findings).toEqual([])
    expect(named.stopping.toStill).toBeGreaterThan(0)
    expect(named.figure('', 'joints not seen after the stop')).toBe(1)
    expect(named.figure('port.feather', 'not seen after the stop, nor its drive state')).toBe(1)
  })

  it('doubts a stop that was not seen to its end', () => {
    const early = stopped()
    early.run.cycles(10, rest)
    early.watch.close()
    expect(early.findings).toHaveLength(6)
    expect(early.findings[0]).toMatchObject({ severity: 'doubt', says: expect.stringMatching(/still/) })
    const later = stopped()
    later.run.cycles(100, rest)
    later.watch.close()
    expect(later.findings).toHaveLength(6)
    expect(later.findings[0]).toMatchObject({ severity: 'doubt', says: expect.stringMatching(/sag/) })
  })

  it('accepts that NMT ends the feedback once all was measured', () => {
    const { run, findings, watch } = stopped()
    states(run.cycles(100, rest), 'switch on disabled').cycles(500, rest)
    for (const bus of [0, 1]) run.see({ kind: 'nmt', t: run.t, bus, node: 0, command: 'pre-operational' })
    run.cycles(200, {})
    watch.close()
    expect(findings).toEqual([])
    // The same before the sag was measured is a doubt.
    const early = stopped()
    early.run.cycles(100, rest)
    for (const bus of [0, 1])
      early.run.see({ kind: 'nmt', t: early.run.t, bus, node: 0, command: 'pre-operational' })
    early.run.cycles(200, {})
    expect(early.findings).toHaveLength(6)
  })
})
