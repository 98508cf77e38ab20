import { describe, expect, it } from 'vitest'
import type { StoppingWatch } from '../../../src/watch/stopping.js'
import type { ReportedState } from '../../../src/wire/observation.js'
import { PERIOD, REACH } from './rig.js'
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
const states = (run: Transcript, state: ReportedState, except = -1): Transcript => {
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
  states(watched.run, 'quick stop active')
  return { ...watched, stopping: watched.watch as StoppingWatch }
}

/** Port feather is silent for longer than the silence limit of three periods, and the stop names it. */
function silenced() {
  const watched = watching('stopping')
  states(watched.run, 'operation enabled').stage('play').cycles(96, moving)
  watched.run
    .cycles(4, { feedback: (j, k) => (j === 2 ? null : moving.feedback(j, k)) })
    .stop('silence', 'port.feather')
    .stage('stopping')
  states(watched.run, 'quick stop active', 2)
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

    const named = silenced()
    states(named.run, 'switch on disabled').cycles(600, silent)
    named.watch.close()
    expect(named.findings).toEqual([])
    expect(named.stopping.toStill).toBeGreaterThan(0)
    expect(named.figure('', 'joints not seen after the stop')).toBe(1)
    expect(named.figure('port.feather', 'not seen after the stop, nor its drive state')).toBe(1)
  })

  it('doubts the joint that the stop names too, if it was lost only after the stop', () => {
    const { run, findings } = stopped('tracking', 'port.feather')
    states(run, 'switch on disabled').cycles(400, rest)
    expect(findings).toEqual([])
    run.cycles(
      200,
      restBut(2, () => null),
    )
    expect(told(findings)).toEqual(['doubt port.feather feedback after the stop'])
    // Nor does its coming back, and going again, change what was lost.
    run.cycles(200, rest).cycles(
      100,
      restBut(2, () => null),
    )
    expect(findings).toHaveLength(1)
  })

  it('watches a silent joint that comes back: at rest and off, it is only told as unseen', () => {
    const { run, findings, stopping, watch, figure } = silenced()
    states(run, 'switch on disabled')
      .cycles(
        200,
        restBut(2, () => null),
      )
      .cycles(600, rest)
    watch.close()
    expect(findings).toEqual([])
    expect(stopping.unseen).toEqual(['port.feather'])
    expect(figure('port.feather', 'time to still')).toBeGreaterThan(0.9)
  })

  it.each<[string, ReportedState, (k: number) => number, string]>([
    ['still enabled', 'operation enabled', slowing, 'drive state after the stop'],
    ['in a state that the standard does not define', 'unknown', slowing, 'drive state after the stop'],
    ['moving on', 'switch on disabled', (k) => 0.05 * k * PERIOD, 'time to still'],
    ['and moves later', 'switch on disabled', (k) => (k > 900 ? 0.3 : slowing(k)), 'motion after the stop'],
  ])('fails a silent joint that comes back %s', (_, state, path, quantity) => {
    const { run, findings } = silenced()
    states(run, 'switch on disabled', 2).cycles(
      300,
      restBut(2, () => null),
    )
    expect(findings).toEqual([])
    if (state !== 'operation enabled')
      run.see({ kind: 'state', t: run.t, joint: 2, state, follows: false, word: 0 })
    run.cycles(600, restBut(2, path))
    expect(told(findings)).toEqual([`failure port.feather ${quantity}`])
  })

  it('puts a joint off no longer than once that comes and goes', () => {
    const { run, findings } = silenced()
    states(run, 'switch on disabled').cycles(
      300,
      restBut(2, () => null),
    )
    run.cycles(
      300,
      restBut(2, (k) => (k % 20 < 5 ? 0.05 * k * PERIOD : null)),
    )
    expect(told(findings)).toEqual(['failure port.feather time to still'])
  })

  it('counts no undefined state as off', () => {
    const { run, findings } = stopped()
    states(states(run, 'switch on disabled', 1), 'switch on disabled', 1)
    run.see({ kind: 'state', t: run.t, joint: 1, state: 'unknown', follows: false, word: 0x0601 })
    run.cycles(400, rest)
    expect(told(findings)).toEqual(['failure port.pitch drive state after the stop'])
  })

  it('misses nothing in a stop before the nodes were started, and says never seen of one that was', () => {
    const early = watching('stopping')
    early.run.stage('setup').stop('signal').stage('stopping').cycles(50, {}).stage('stopped').cycles(500, {})
    early.watch.close()
    expect(early.findings).toEqual([])
    expect((early.watch as StoppingWatch).toStill).toBeNull()
    expect((early.watch as StoppingWatch).unseen).toHaveLength(6)
    const again = stopped()
    states(again.run, 'switch on disabled').cycles(700, rest).stage('setup')
    again.run.stop('drive').stage('stopping').cycles(500, {})
    again.watch.close()
    expect(again.findings).toEqual([])
    const later = watching('stopping')
    for (const bus of [0, 1]) later.run.see({ kind: 'nmt', t: 0, bus, node: 0, command: 'start' })
    const standing = { feedback: (j: number) => (j === 4 ? null : 0.2) }
    later.run.stage('seed').cycles(20, standing).stop('signal').stage('stopping').cycles(600, standing)
    expect(told(later.findings)).toEqual(['doubt starboard.pitch feedback after the stop'])
    expect(later.findings[0]!.says).toMatch(/never seen/)
  })

  it.each([
    [true, 'failure'],
    [false, 'warning'],
  ])('measures sag once the drives are off at the end; brakes stated: %s', (brakes, severity) => {
    const { run, findings, figure, rig } = watching('stopping')
    Object.assign(rig.stop, { brakes })
    run.stage('park').cycles(100, moving).stage('rest')
    run.cycles(100, {
      feedback: (j, k) => moving.feedback(j, 99) + (j === 1 ? 0.05 * (k - 100) * PERIOD : 0),
    })
    expect(told(findings)).toEqual([`${severity} port.pitch sag`])
    expect(findings[0]!.says).toMatch(/once its drive was off/)
    expect(figure('port.pitch', 'sag once the drives were off')).toBeCloseTo(0.05 * 99 * PERIOD, 6)
    expect(figure('port.roll', 'sag once the drives were off')).toBe(0)
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
    expect(early.findings.map((f) => f.place)).toEqual(['port-can', 'starboard-can'])
  })

  it('measures the way of the blade: pitch turns the corners of its tip about the base', () => {
    const watched = watching('stopping')
    const { run, figure, watch } = watched
    // The other joints stand; pitch of both arms slows down.
    const pitch = (of: (k: number) => number) => ({
      feedback: (j: number, k: number) => (j % 3 === 1 ? of(k) : 0),
    })
    states(run, 'operation enabled')
      .stage('play')
      .cycles(
        100,
        pitch((k) => moving.feedback(0, k)),
      )
    run.stop().stage('stopping')
    states(run.cycles(30, pitch(slowing)), 'switch on disabled').cycles(570, pitch(slowing))
    run.see({ kind: 'end', t: run.t, reason: 'completed' })
    watch.close()
    const { paddle } = run.rig.arms[0]!
    // A chord: both corners lie on a circle about the base's y axis. x across: the normal is x, the shaft -z, so that the
    // width lies along y, which pitch does not move, and the radius is the reach and half the blade's length.
    const radius = REACH + paddle.length / 2
    const angle = figure('port.pitch', 'travel to still')!
    expect(figure('port', 'blade travel to still')).toBeCloseTo(2 * radius * Math.sin(angle / 2), 4)
    expect(figure('starboard', 'blade travel to still')).toBeGreaterThan(0.01)
  })

  it('of an arm with a silent joint it tells no way of the blade', () => {
    const { run, figure } = silenced()
    run.cycles(
      600,
      restBut(2, () => null),
    )
    expect(() => figure('port', 'blade travel to still')).toThrow('no figure')
    expect(figure('starboard', 'blade travel to still')).toBeGreaterThan(0)
  })
})

describe('a held stop', () => {
  const held = () => {
    const watched = watching('stopping')
    states(watched.run, 'operation enabled').stage('play').cycles(100, moving)
    watched.run.stop('sense', 'port', 2).stage('stopping')
    return watched
  }

  it('leaves the drives enabled without a finding, and what joints move once let go is sag', () => {
    const { run, findings, figure, watch } = held()
    run.cycles(600, rest).stage('disable').cycles(4, rest)
    const sinking = { feedback: () => STOP_WAY + 0.009 }
    run.cycles(4, sinking).stage('rest').cycles(400, sinking)
    run.see({ kind: 'end', t: run.t, reason: 'completed' })
    watch.close()
    expect(findings).toEqual([])
    // Counted from where it was let go, not from the stage that follows.
    expect(figure('port.roll', 'sag once the drives were off')).toBeCloseTo(0.009, 6)
    expect(figure('port.roll', 'motion after that')).toBe(0)
  })

  it('that moves while it holds is a failure', () => {
    const { run, findings } = held()
    run.cycles(600, rest).cycles(20, { feedback: () => STOP_WAY + 0.02 })
    expect(findings).toHaveLength(6)
    expect(findings[0]).toMatchObject({ quantity: 'motion after the stop', severity: 'failure' })
  })

  it('once it is an emergency stop the drives must lose their torque, in the time from then on', () => {
    const { run, findings } = held()
    run.cycles(600, rest)
    const says = 'the held stop was given up: for a test'
    run.see({ kind: 'escalation', t: run.t, source: 'stop', place: 'port.roll', category: 1, says })
    expect(findings.map((f) => f.says)).toEqual([
      'The held stop was given up: for a test; an emergency stop took its place.',
    ])
    // 1 s of time-out, 100 ms of hold and 200 ms of margin.
    const enabled = () => findings.filter((f) => f.quantity === 'drive state after the stop')
    run.cycles(259, rest)
    expect(enabled()).toEqual([])
    run.cycles(3, rest)
    expect(enabled()).toHaveLength(6)
    // That they did not even obey was known before.
    expect(findings.filter((f) => f.quantity === 'time to obey the stop')).toHaveLength(12)
  })

  it('overruled by a person is no failure of the stop', () => {
    const { run, findings } = held()
    run.see({ kind: 'escalation', t: run.t, source: 'operator', place: '', category: 1, says: 'asked for' })
    expect(findings).toEqual([])
  })
})

describe('stopping watch, in the stop', () => {
  /** rad that a joint goes on after cycle 100: v t + v^2/2a, 1.5 times the ramp of 26 rad/s2, and 1 deg. */
  const REACHES = 2 * PERIOD * SPEED + (1.5 * SPEED * SPEED) / (2 * 26) + 0.0175

  it('tells a joint that goes on for longer than its speed and the ramp explain, once, and passes one that does not', () => {
    const { run, findings } = stopped()
    const from = moving.feedback(0, 99)
    const path = restBut(1, (k) => moving.feedback(1, Math.min(k, 100 + 12)))
    run.cycles(50, {
      feedback: (j, k) =>
        j === 4 ? Math.min(from + REACHES - 1e-3, moving.feedback(4, k)) : path.feedback(j, k),
    })
    expect(told(findings)).toEqual(['failure port.pitch travel to still'])
    expect(findings[0]!.limit).toBeCloseTo(REACHES, 9)
    expect(findings[0]!.value).toBeGreaterThan(REACHES)
    expect(findings[0]!.value).toBeLessThan(REACHES + SPEED * PERIOD)
  })

  it('foretells nothing of a stop that takes the torque away at once, nor of feedback that leapt', () => {
    const off = watching('stopping')
    states(off.run, 'operation enabled')
      .stage('play')
      .cycles(100, moving)
      .stop('operator', '', 0)
      .stage('stopping')
    states(off.run, 'switch on disabled').cycles(40, moving)
    expect(off.findings).toEqual([])
    const leapt = watching('stopping')
    states(leapt.run, 'operation enabled').stage('play').cycles(99, moving)
    // 1 mrad and some noise is what twice the acceleration limit makes in a period.
    leapt.run.cycles(1, { feedback: (j, k) => moving.feedback(j, k) + (j === 0 ? 0.004 : 0) }).stop()
    states(leapt.run.stage('stopping'), 'quick stop active').cycles(
      40,
      restBut(0, (k) => slowing(k) + 0.2),
    )
    expect(told(leapt.findings)).toEqual([])
  })

  it('a joint that springs off when its drive lets go of it at rest sags, although nobody has seen it still', () => {
    const { run, findings, figure } = stopped()
    run.cycles(21, rest)
    states(run, 'switch on disabled')
    // 2 deg in 100 ms, from the very frame on that says so.
    const kick = (k: number): number => slowing(k) + 0.035 * Math.min(1, Math.max(0, (k - 120) / 20))
    run.cycles(60, restBut(3, kick))
    expect(told(findings)).toEqual(['failure starboard.roll sag'])
    expect(findings[0]!.value).toBeGreaterThan(0.0175)
    expect(findings[0]!.value).toBeLessThan(0.0195)
    expect(figure('starboard.roll', 'sag after still')).toBeCloseTo(0.035, 3)
    expect(figure('port.roll', 'sag after still')).toBeLessThan(1e-3)
  })

  it('a drive that lets go of a joint in motion leaves it to coast: that is travel', () => {
    const { run, findings } = stopped()
    run.cycles(2, rest)
    states(run, 'switch on disabled').cycles(60, rest)
    expect(findings).toEqual([])
  })

  it.each([
    [3, []],
    [6, ['warning port.feather time to obey the stop']],
    [25, ['warning port.feather time to obey the stop', 'failure port.feather time to obey the stop']],
  ])('a drive that says operation enabled for %i cycles more', (cycles, says) => {
    const { run, findings } = watching('stopping')
    states(run, 'operation enabled').stage('play').cycles(100, moving).stop().stage('stopping')
    states(run, 'quick stop active', 2).cycles(cycles, rest)
    states(run, 'quick stop active').cycles(20, rest)
    expect(told(findings)).toEqual(says)
    for (const found of findings) expect(found.stop).toBeNull()
    expect(findings.map((f) => f.limit)).toEqual([0.02, 0.1].slice(0, says.length))
  })

  it('one that is silent has said nothing of the kind', () => {
    const { run, findings } = watching('stopping')
    states(run, 'operation enabled')
      .stage('play')
      .cycles(100, moving)
      .stop('silence', 'port.feather')
      .stage('stopping')
    states(run, 'quick stop active', 2).cycles(
      60,
      restBut(2, () => null),
    )
    expect(told(findings).filter((f) => f.includes('obey'))).toEqual([])
  })
})
