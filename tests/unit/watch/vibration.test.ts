/** Setpoints that swing slowly, feedback two periods later with the noise of one encoder count, and what is added to it. */
import { describe, expect, it } from 'vitest'
import type { MountSettings } from '../../../src/files/rig.js'
import { ownFrequency } from '../../../src/motion/mount.js'
import { randomStream } from '../../../src/random.js'
import { needs } from '../../setup/needs.js'
import { python } from '../../setup/python.js'
import { PERIOD, type RigChanges } from './rig.js'
import { told, watching } from './transcript.js'

const COUNT = (2 * Math.PI) / 131072
const LIMIT = 26 // rad/s2, acceleration limit of every joint of the test rig
/** A cantilever with its own frequency at 40 Hz, about. */
const MOUNT: MountSettings = {
  length: 0.25,
  beam: { kind: 'measured', load: 100, deflection: 1e-3, mass: 0 },
  tipMass: 1.6,
  reach: 0.5,
  lines: [24],
  margin: 0.2,
  harmonics: 20,
}

/** 1 stroke/s: the roll joint lifts the blade out, and dips it. */
const asked = (j: number, t: number): number =>
  j % 3 === 0 ? 0.5 - 0.45 * Math.cos(2 * Math.PI * t) : 0.2 * Math.sin(2 * Math.PI * t)

/** @param added rad, of port.pitch */
function trembling(
  added: (t: number) => number,
  seconds = 20,
  changes: RigChanges = {},
  lag: number | null = 2,
) {
  const names = [
    'port.roll',
    'port.pitch',
    'port.feather',
    'starboard.roll',
    'starboard.pitch',
    'starboard.feather',
  ]
  const set = lag === null ? {} : Object.fromEntries(names.map((name) => [name, `${lag * PERIOD * 1000} ms`]))
  const seen = watching('vibration', {
    ...changes,
    watch: { ...changes.watch, tracking: { lag: { set } } },
  })
  const random = randomStream(7, 'noise')
  seen.run.stage('play').cycles(seconds / PERIOD, {
    setpoint: (j, k) => asked(j, k * PERIOD),
    // Sent in cycle k - 4 it is the one of index k - 3, that of two periods before the pair of index k - 1.
    feedback: (j, k) =>
      asked(j, (k - 4) * PERIOD) + (j === 1 ? added(k * PERIOD) : 0) + COUNT * random.normal(),
  })
  return seen
}
const swing = (frequency: number, amplitude: number) => (t: number) =>
  amplitude * Math.sin(2 * Math.PI * frequency * t)
/** rad, amplitude of a swing whose acceleration has the RMS of so many rad/s2 */
const shaking = (frequency: number, rms: number): number =>
  (Math.SQRT2 * rms) / (2 * Math.PI * frequency) ** 2

describe('vibration watch', () => {
  it('says nothing of a joint that follows with lag and noise', () => {
    const { findings, figure, watch } = trembling(() => 0, 40)
    watch.close()
    expect(findings).toEqual([])
    expect(figure('port.pitch', 'vibration lines')).toBe(0)
    // White noise of one count and its rounding: 2 s^2 / rate, times (2 pi f)^4, from 10 to 30 Hz.
    const density = (2 * (1 + 1 / 12) * COUNT ** 2) / 200
    const rms = Math.sqrt((density * (2 * Math.PI) ** 4 * (30 ** 5 - 10 ** 5)) / 5)
    expect(figure('port.pitch', 'vibration, 10 to 30 Hz, RMS') / rms).toBeGreaterThan(0.8)
    expect(figure('port.pitch', 'vibration, 10 to 30 Hz, RMS') / rms).toBeLessThan(1.4)
  })

  it('learns the lag where the rig states none', () => {
    const { findings, figure } = trembling(() => 0, 20, {}, null)
    expect(findings).toEqual([])
    expect(figure('port.pitch', 'vibration, 3 to 10 Hz, RMS')).toBeLessThan(0.05 * LIMIT)
  })

  it('warns when a segment has ended in which the joint trembled, and tells the line at the end', () => {
    const { findings, watch, figure } = trembling(swing(25.3, shaking(25.3, 3)))
    expect(told(findings)).toEqual(['warning port.pitch vibration, 10 to 30 Hz'])
    expect(findings[0]!.value / 3).toBeCloseTo(1, 1)
    expect(findings[0]).toMatchObject({ stop: null })
    // One sample left out for its place, and 1024 of a segment.
    expect(findings[0]!.t / 1e9).toBeCloseTo(1025 * PERIOD, 1)
    watch.close()
    expect(told(findings)).toEqual([
      'warning port.pitch vibration, 10 to 30 Hz',
      'warning port.pitch vibration line',
    ])
    expect(findings[1]!.says).toBe('The joint swings at 25.3 Hz, which is no harmonic of its strokes.')
    expect(findings[1]!.value / shaking(25.3, 3)).toBeCloseTo(1, 1)
    expect(figure('port.pitch', 'strongest line, frequency')).toBeCloseTo(25.3, 1)
  })

  it('stops the arms when the tremble is beyond the limit', () => {
    const { findings } = trembling(swing(17.5, shaking(17.5, 9)))
    expect(findings[0]).toMatchObject({ severity: 'failure', stop: 1, place: 'port.pitch', unit: 'rad/s2' })
  })

  it('goes by the settings of the rig', () => {
    const watch = { vibration: { limit: '60 %', warning: '50 %' } }
    expect(trembling(swing(17.5, shaking(17.5, 9)), 12, { watch }).findings).toEqual([])
    const bands = { vibration: { bands: { from: '5 Hz', middle: '16 Hz', high: '18 Hz' } } }
    const { findings } = trembling(swing(17.5, shaking(17.5, 3)), 12, { watch: bands })
    expect(told(findings)).toEqual(['warning port.pitch vibration, 16 to 18 Hz'])
  })

  it('takes no harmonic of the strokes for a line, and what lies between two for one', () => {
    const between = trembling(swing(11.5, shaking(11.5, 0.8)))
    between.watch.close()
    expect(told(between.findings)).toEqual(['warning port.pitch vibration line'])
    const harmonic = trembling(swing(12, shaking(12, 0.8)))
    harmonic.watch.close()
    expect(harmonic.findings).toEqual([])
  })

  it('says so when a line is near the frequency of the mount, or near a vibration that the rig states', () => {
    const own = ownFrequency(MOUNT)
    expect(own).toBeCloseTo(39.8, 1)
    const near = trembling(swing(42.2, shaking(42.2, 6)), 20, { mount: MOUNT })
    near.watch.close()
    expect(near.findings.at(-1)!.says).toBe(
      "The joint swings at 42.2 Hz, near the mount's own frequency of 39.8 Hz.",
    )
    const pump = trembling(swing(24.5, shaking(24.5, 2)), 20, { mount: MOUNT })
    pump.watch.close()
    expect(pump.findings.at(-1)!.says).toBe(
      'The joint swings at 24.5 Hz, near the vibration of 24 Hz that the rig states.',
    )
  })

  it('takes no part in what swings with the setpoint: the lag is taken off first', () => {
    const seen = watching('vibration', { watch: { tracking: { lag: { set: { 'port.pitch': '10 ms' } } } } })
    const trembles = (k: number): number => swing(12.3, 2e-3)(k * PERIOD)
    seen.run.stage('play').cycles(3000, {
      setpoint: (j, k) => (j === 1 ? trembles(k) : 0),
      feedback: (j, k) => (j === 1 ? trembles(k - 4) : 0),
    })
    seen.watch.close()
    expect(told(seen.findings)).toEqual(['failure port.pitch tremble of setpoints, RMS'])
    expect(seen.figure('port.pitch', 'vibration, 10 to 30 Hz, RMS')).toBeLessThan(1e-3)
  })

  it('makes nothing of two stretches with a gap between', () => {
    const seen = watching('vibration', { watch: { tracking: { lag: { set: { 'port.roll': '0 s' } } } } })
    seen.run.stage('play')
    for (let i = 0; i < 6; i++) {
      seen.run.cycles(500, { setpoint: () => 0, feedback: (_, k) => swing(20, 0.01)(k * PERIOD) })
      seen.run.cycles(1, { setpoint: () => 0 })
    }
    expect(seen.watch.figures()).toEqual([])
    expect(seen.findings).toEqual([])
  })

  it.each([
    ['a leap of arms that do not stand still is told', false, 1],
    ['a leap that simulated arms made as they stood still in time is none of a joint', true, 0],
  ])('%s', (_, standing, findings) => {
    const seen = watching('vibration', { watch: { tracking: { lag: { set: { 'port.roll': '0 s' } } } } })
    seen.run.stage('play')
    const leap = (k: number): number => (k === 400 ? 0.05 : 0)
    seen.run.cycles(500, { setpoint: () => 0, feedback: (j, k) => (j === 0 ? leap(k) : 0) })
    if (standing) seen.run.see({ kind: 'standstill', t: seen.run.t, times: 1, longest: 5e6 })
    seen.run.cycles(2000, { setpoint: () => 0, feedback: () => 0 })
    expect(new Set(seen.findings.map((f) => f.place)).size).toBe(findings)
  })

  it('warns once, at the end, of arms that another process simulates, whose time is not even, and stops nothing', () => {
    const none = Object.fromEntries(['port.roll', 'port.pitch'].map((name) => [name, '0 s']))
    const seen = watching('vibration', { watch: { tracking: { lag: { set: none } } } })
    seen.run.see({ kind: 'arms', t: 0, arms: 'stand-in', says: '' }).stage('play')
    const rms = (j: number): number => [2, 4][j]! * LIMIT
    seen.run.cycles(2000, {
      setpoint: () => 0,
      feedback: (j, k) => (j < 2 ? swing(20, shaking(20, rms(j)))(k * PERIOD) : 0),
    })
    expect(seen.findings).toEqual([])
    seen.watch.close()
    const bands = seen.findings.filter((f) => f.quantity !== 'vibration line')
    expect(bands.map((f) => [f.place, f.severity, f.stop])).toEqual([['port.pitch', 'warning', null]])
    expect(bands[0]!.value / rms(1)).toBeCloseTo(1, 1)
  })

  it('sees nothing after a stop', () => {
    const seen = watching('vibration', { watch: { tracking: { lag: { set: { 'port.roll': '0 s' } } } } })
    seen.run.stage('play').stop()
    seen.run.cycles(2000, { setpoint: () => 0, feedback: (_, k) => swing(20, 0.01)(k * PERIOD) })
    expect(seen.findings).toEqual([])
  })
})

describe('vibration watch, setpoints that tremble themselves', () => {
  const QUANTITY = 'tremble of setpoints, RMS'
  /** rad, the sound setpoint and what is added, of port.pitch; as the bench's driver gives it, or as it goes out on the wire in counts */
  function given(added: (k: number) => number, where: 'tick' | 'wire', seconds = 12, count = COUNT) {
    const seen = watching('vibration', { counts: 1 / count })
    const whole = (q: number): number => Math.round(q / count) * count
    seen.run.stage('play')
    for (let k = 0; k * PERIOD < seconds; k++) {
      const at = (j: number): number => asked(j, k * PERIOD) + (j === 1 ? added(k) : 0)
      seen.run.cycles(1, {
        setpoint: (j) => whole(at(j)),
        feedback: (j) => asked(j, k * PERIOD),
        ...(where === 'tick' ? { given: at } : {}),
      })
    }
    return { ...seen, found: seen.findings.filter((f) => f.quantity === QUANTITY) }
  }
  const humming = (frequency: number, rms: number) => (k: number) =>
    swing(frequency, shaking(frequency, rms))(k * PERIOD)

  it.each(['tick', 'wire'] as const)('is quiet on strokes, rounded as they come: %s', (where) => {
    const { found, figure } = given(() => 0, where, 20)
    expect(found).toEqual([])
    if (where === 'wire') {
      // Rounding of variance count^2/12: second differences, (2 sin)^4, of 10 Hz and more are nearly all of sqrt(6).
      const floor = (COUNT / Math.sqrt(12)) * (Math.sqrt(6) / PERIOD ** 2)
      expect(figure('port.pitch', QUANTITY) / floor).toBeGreaterThan(0.8)
      expect(figure('port.pitch', QUANTITY) / floor).toBeLessThan(1.05)
    } else expect(figure('port.pitch', QUANTITY)).toBeLessThan(0.01 * LIMIT)
  })

  it('takes coarse counts for no tremble, though they shake more than a driver may', () => {
    const count = (2 * Math.PI) / 10_000
    const { found, figure } = given(() => 0, 'wire', 12, count)
    expect(found).toEqual([])
    // As above: twice the limit of 0.3 of the acceleration.
    expect(figure('port.pitch', QUANTITY)).toBeGreaterThan(2 * 0.3 * LIMIT)
  })

  it.each(['tick', 'wire'] as const)(
    'warns within four seconds of a hum of a tenth of the limit: %s',
    (where) => {
      const { found } = given(humming(25, 0.1 * LIMIT), where)
      expect(found.map((f) => [f.place, f.severity, f.stop])).toEqual([['port.pitch', 'warning', null]])
      // Second differences of a line are (sin x / x)^2 of its acceleration, x = pi f T.
      const x = Math.PI * 25 * PERIOD
      const rms = 0.1 * LIMIT * (Math.sin(x) / x) ** 2
      const rounding = where === 'wire' ? (COUNT / Math.sqrt(12)) * (Math.sqrt(6) / PERIOD ** 2) : 0
      expect(found[0]!.value / Math.hypot(rms, rounding)).toBeCloseTo(1, 1)
      expect(found[0]!.t / 1e9).toBeLessThan(4)
    },
  )

  it('stops arms whose driver shakes them beyond the limit', () => {
    const { found } = given(humming(20, 0.35 * LIMIT), 'tick')
    expect(found[0]).toMatchObject({ severity: 'failure', stop: 1, place: 'port.pitch' })
  })

  it('bears a hum of a fiftieth, one below 10 Hz, and a single leap', () => {
    expect(given(humming(25, 0.02 * LIMIT), 'tick').found).toEqual([])
    expect(given(humming(7, 0.2 * LIMIT), 'tick').found).toEqual([])
    expect(given((k) => (k >= 1000 ? 0.01 : 0), 'tick').found).toEqual([])
  })

  it.skipIf(!needs('python3-scipy'))('RMS of noise: scipy.signal.welch of the second differences', () => {
    const random = randomStream(11, 'setpoints')
    const noise = Array.from({ length: 2400 }, () => 1e-4 * random.normal())
    const { figure } = given((k) => noise[k] ?? 0, 'tick')
    const script = `
import json, sys
import numpy as np
from scipy.signal import welch
x = np.array(json.load(sys.stdin))
a = np.diff(x, 2) * 200**2
rms = []
# One joint's windows begin one sample later for each joint before it.
for i in range(1, len(a) - 256 + 1, 128):
    f, p = welch(a[i:i+256], fs=200, nperseg=256)
    rms.append(np.sqrt(np.sum(p[f >= 10]) * (f[1] - f[0])))
json.dump(max(min(rms[i:i+3]) for i in range(len(rms) - 2)), sys.stdout)`
    const strokes = noise.map((x, k) => Number((asked(1, k * PERIOD) + x).toPrecision(15)))
    expect(figure('port.pitch', QUANTITY)).toBeCloseTo(python<number>(script, strokes), 6)
  })
})
