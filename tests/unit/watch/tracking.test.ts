import { describe, expect, it } from 'vitest'
import { PERIOD } from './rig.js'
import { NS, told, watching } from './transcript.js'

const DEG = Math.PI / 180
/** rad; reverses, and is fast enough to learn from */
const path = (s: number): number => 0.5 * Math.sin(2 * s)
/** Setpoint k acts at SYNC k and is reached at k + 1: it is the path one period later. */
const asked = (_: number, k: number): number => path((k + 2) * PERIOD)

describe('tracking watch', () => {
  it('pairs feedback with the setpoint of the SYNC before: a perfect drive has no error', () => {
    const { run, findings, figure } = watching('tracking')
    // Sent in cycle k with index k + 1, reached at SYNC k + 2.
    run.stage('play').cycles(1000, { setpoint: asked, feedback: (_, k) => path(k * PERIOD) })
    expect(findings).toEqual([])
    // The first cycles have no setpoint so far back.
    expect(figure('port.roll', 'following error, raw, RMS')).toBeLessThan(1e-3)
    expect(figure('port.roll', 'lag, learned')).toBeLessThan(1e-4)
    expect(figure('port.roll', 'following error, lag removed, peak')).toBeLessThan(1e-6)
  })

  it.each([0, 3.1, 12, 21.7, 40, 58])('learns a lag of %d ms to a tenth of a millisecond', (ms) => {
    const { run, findings, figure } = watching('tracking')
    run.stage('seed').cycles(50, { setpoint: asked, feedback: (_, k) => path(k * PERIOD - ms / 1000) })
    run.stage('play').cycles(1000, { setpoint: asked, feedback: (_, k) => path(k * PERIOD - ms / 1000) })
    expect(findings).toEqual([])
    expect(figure('port.roll', 'lag, learned') * 1000).toBeCloseTo(ms, 1)
    expect(figure('starboard.feather', 'following error, lag removed, peak')).toBeLessThan(0.05 * DEG)
    // Raw: lag times speed, 1 rad/s at most.
    expect(figure('port.roll', 'following error, raw, peak')).toBeCloseTo(ms / 1000, 3)
  })

  it('does not take a constant offset for lag', () => {
    const { run, figure } = watching('tracking')
    const sagging = (_: number, k: number): number => path(k * PERIOD - 0.012) - 0.3 * DEG
    // From here on the joint goes one way three times as long as is needed to learn.
    run.stage('seed').cycles(475, { setpoint: asked, feedback: sagging })
    run.stage('play').cycles(1200, { setpoint: asked, feedback: sagging })
    expect(figure('port.roll', 'lag, learned')).toBeCloseTo(0.012, 3)
    expect(figure('port.roll', 'following error, lag removed, peak')).toBeCloseTo(0.3 * DEG, 3)
  })

  it('fails a lag beyond its limit, and does not remove more than the limit', () => {
    const { run, findings, figure } = watching('tracking', { watch: { tracking: { window: '20 deg' } } })
    const slow = (_: number, k: number): number => path(k * PERIOD - 0.08)
    run.stage('seed').cycles(50, { setpoint: asked, feedback: slow })
    run.stage('play').cycles(1200, { setpoint: asked, feedback: slow })
    expect(told(findings).filter((f) => f.includes('port.roll'))).toEqual(['failure port.roll lag'])
    expect(findings[0]!.value).toBeCloseTo(0.08, 3)
    expect(findings[0]!.limit).toBe(0.06)
    // 20 ms at 1 rad/s are left.
    expect(figure('port.roll', 'following error, lag removed, peak')).toBeCloseTo(0.02, 3)
  })

  it('takes a lag from the rig', () => {
    const { run, figure } = watching('tracking', {
      watch: { tracking: { lag: { set: { 'port.roll': '10 ms' } } } },
    })
    run.stage('play').cycles(50, { setpoint: asked, feedback: (_, k) => path(k * PERIOD - 0.01) })
    expect(figure('port.roll', 'lag, set')).toBeCloseTo(0.01, 12)
    expect(figure('port.pitch', 'motion to learn the lag from')).toBeGreaterThan(0)
  })

  it.each(['before the lag is known', 'after'])('finds a jammed joint %s', (when) => {
    const lag = 0.012
    const { run, findings } = watching('tracking')
    const follow = (_: number, k: number): number => path(k * PERIOD - lag)
    const start = when === 'after' ? 1300 : 40
    run.stage('seed').cycles(20, { setpoint: asked, feedback: follow })
    run.stage('play').cycles(start - 20, { setpoint: asked, feedback: follow })
    expect(findings).toEqual([])
    const jammedAt = path(start * PERIOD - lag)
    run.cycles(100, { setpoint: asked, feedback: (j, k) => (j === 1 ? jammedAt : follow(j, k)) })
    expect(told(findings)).toEqual(['failure port.pitch following error'])
    const [found] = findings
    // First sample whose error, with all the lag allowed taken off, is beyond the window; then the time-out.
    const allowed = when === 'after' ? lag : 0.06
    let k = start
    while (path(k * PERIOD - allowed) - jammedAt <= 1.5 * DEG) k++
    const seenAt = found!.t / NS
    expect(seenAt).toBeGreaterThan(k + 0.02 / PERIOD - 1)
    expect(seenAt).toBeLessThan(k + 0.02 / PERIOD + 2)
    expect(found!.limit).toBeCloseTo(1.5 * DEG, 12)
    expect(found!.stop).toBe(1)
  })

  it('lets an error pass that is shorter than the time-out', () => {
    const { run, findings } = watching('tracking')
    const off = (size: number) => ({ setpoint: () => 0, feedback: (j: number) => (j === 0 ? size : 0) })
    run
      .stage('play')
      .cycles(50, off(0))
      .cycles(4, off(2 * DEG))
      .cycles(50, off(0))
    expect(findings).toEqual([])
    const since = run.t
    run.cycles(5, off(-2 * DEG))
    expect(told(findings)).toEqual(['failure port.roll following error'])
    expect(findings[0]!.t).toBe(since + 20e6 + 300_000)
  })

  it('looks only while the arms are moved, and not after a stop', () => {
    const { run, findings } = watching('tracking')
    const far = { setpoint: () => 0, feedback: () => 0.5 }
    run.stage('setup').cycles(50, far).stage('seed').cycles(50, far).stage('enable').cycles(50, far)
    run.stage('play').cycles(3, far).stop().cycles(100, far).stage('stopping').cycles(100, far)
    expect(findings).toEqual([])
  })

  it('holds the last setpoint while none comes', () => {
    const { run, findings, figure } = watching('tracking')
    run
      .stage('play')
      .cycles(10, { setpoint: () => 0.2, feedback: () => 0.2 })
      .cycles(300, { feedback: () => 0.2 })
    expect(findings).toEqual([])
    expect(figure('port.roll', 'following error, raw, peak')).toBe(0)
  })
})
