/** Half strokes of the joint `pitch`, which moves the blade along the craft; the other joints rest. */
import { describe, expect, it } from 'vitest'
import { randomStream } from '../../../src/random.js'
import { SpeedProfile } from '../../../src/watch/speed-profile.js'
import { PERIOD, REACH, type RigChanges } from './rig.js'
import { NS, told, watching } from './transcript.js'

const COUNT = (2 * Math.PI) / 131072
/** s, samples of half the fit's window: what the watch sees it sees so much later */
const DELAY = 10 * PERIOD

/** 0..1 in minimum jerk. */
const minimumJerk = (s: number): number => {
  const x = Math.min(1, Math.max(0, s))
  return x * x * x * (10 - 15 * x + 6 * x * x)
}

/** rad at `t` s: to and fro by 0.6 rad, `time` s each way. */
const everySo = (time: number) => (t: number) => {
  const half = Math.floor(t / time)
  const part = 0.6 * minimumJerk(t / time - half)
  return half % 2 === 0 ? part - 0.3 : 0.3 - part
}
const smooth = everySo(1.2)

/** The same way in two movements with a rest of 0.4 s between, each time. */
const halting = (t: number): number => {
  const half = Math.floor(t / 1.6)
  const s = t - 1.6 * half
  const part = 0.3 * minimumJerk(s / 0.6) + 0.3 * minimumJerk((s - 1) / 0.6)
  return half % 2 === 0 ? part - 0.3 : 0.3 - part
}

function stroking(way: (t: number) => number, seconds = 12, noise = 1, changes: RigChanges = {}) {
  const seen = watching('smoothness', changes)
  const random = randomStream(3, 'noise')
  const feedback = (j: number, k: number): number =>
    (j === 1 ? way(k * PERIOD) : 0) + noise * COUNT * random.normal()
  seen.run.stage('play').cycles(seconds / PERIOD, { feedback })
  return { ...seen, go: (s: number) => seen.run.cycles(s / PERIOD, { feedback }) }
}

describe('smoothness watch', () => {
  it('says nothing of minimum-jerk half strokes, and measures them as published', () => {
    const { findings, figure } = stroking(smooth)
    expect(findings).toEqual([])
    // Ten in 12 s: the one that began before motion had settled is left out, and so is the one under way.
    expect(figure('port.pitch', 'half strokes judged')).toBe(8)
    // Published: -1.40583 and -5.22414 (check table of the project, 4); the fit rounds off a little, noise adds to the jerk.
    expect(figure('port.pitch', 'spectral arc length, median')).toBeCloseTo(-1.406, 1)
    expect(figure('port.pitch', 'log dimensionless jerk, median')).toBeGreaterThan(-6.5)
    expect(figure('port.pitch', 'log dimensionless jerk, median')).toBeLessThan(-5.1)
    expect(figure('port', 'half strokes judged')).toBe(8)
    expect(figure('port.roll', 'half strokes judged')).toBe(0)
    expect(figure('starboard', 'half strokes judged')).toBe(0)
  })

  it('measures jerk without noise as published, for the same time and rate', () => {
    // An encoder so fine that next to nothing of the ends, where jerk is greatest, is too slow to count.
    const fine = { counts: 2 ** 30, noise: 0, watch: { smoothness: { window: 5 } } } as const
    const { figure } = stroking(everySo(1), 12, 0, fine)
    // Minimum jerk of 1 s at 100 Hz without its end point: check table of the project, 4. A sample more or less at the ends is 0.03, the
    // figure's own resolution 0.02; the fit rounds off the rest.
    expect(Math.abs(figure('port.pitch', 'log dimensionless jerk, median') + 5.22414)).toBeLessThan(0.1)
    expect(Math.abs(figure('port.pitch', 'spectral arc length, median') + 1.40583)).toBeLessThan(0.01)
  })

  it('tells of half strokes that halt on their way, as soon as the first has ended', () => {
    const { findings } = stroking(halting)
    expect(told(findings)).toContain('warning port.pitch spectral arc length')
    const first = findings.find((f) => f.place === 'port.pitch')!
    expect(first).toMatchObject({ limit: -2.5, stop: null })
    expect(first.value).toBeLessThan(-2.5)
    // The half stroke from 1.6 s to 3.2 s is the first that counts.
    expect(first.t / 1e9).toBeGreaterThan(3.2)
    expect(first.t / 1e9).toBeLessThan(3.2 + DELAY + 0.15)
    expect(findings.filter((f) => f.place === 'port.pitch' && f.quantity === first.quantity)).toHaveLength(1)
  })

  it('tells of a tremble that shows in the jerk alone', () => {
    const slow = (t: number): number => 0.6 * Math.sin((2 * Math.PI * t) / 6)
    expect(stroking(slow, 15).findings).toEqual([])
    const { findings } = stroking((t) => slow(t) + 3e-3 * Math.sin(2 * Math.PI * 6 * t), 15)
    expect(told(findings)).toContain('warning port.pitch log dimensionless jerk')
  })

  it('does not take encoder noise for jerk, however slow the motion', () => {
    const slow = (t: number): number => 0.35 * Math.sin((2 * Math.PI * t) / 9.5)
    const { findings, figure } = stroking(slow, 40, 3)
    expect(figure('port.pitch', 'half strokes judged')).toBeGreaterThan(5)
    expect(figure('port.pitch', 'log dimensionless jerk, worst')).toBeLessThan(-12)
    expect(findings).toEqual([])
  })

  it('passes over what a change of the command asks for', () => {
    const seen = stroking(smooth, 6)
    const before = seen.figure('port.pitch', 'half strokes judged')
    // 0.3 m/s takes 0.75 s + 0.2 s, and a second until strokes are even: the half stroke under way and the next one.
    seen.run.command(0.3)
    seen.go(2.2)
    expect(seen.figure('port.pitch', 'half strokes judged')).toBe(before)
    seen.go(3)
    expect(seen.figure('port.pitch', 'half strokes judged')).toBeGreaterThan(before)
  })

  it.each([
    // Twice the speed limit of the period: 15 ms that nobody knows of, in the midst of a half stroke.
    ['a SYNC that came late', (k: number) => k + (k < 700 ? 0 : 3), () => false],
    ['feedback that was lost', (k: number) => k, (j: number, k: number) => j === 1 && k === 700],
    [
      'feedback of another joint that was lost',
      (k: number) => k,
      (j: number, k: number) => j === 2 && k === 700,
    ],
  ])('does not judge a half stroke in the midst of %s, and no other is left out', (_, periods, lost) => {
    const played = (when: (k: number) => number, isLost: typeof lost) => {
      const { run, findings, figure, rig } = watching('smoothness', { noise: 0 })
      run.stage('play')
      for (let k = 0; k < 12 / PERIOD; k++) {
        const t = when(k) * NS
        for (const { index: bus } of rig.buses) run.see({ kind: 'sync', t, bus, index: k })
        for (const { index: joint } of rig.joints) {
          if (isLost(joint, k)) continue
          const position = joint === 1 ? smooth(when(k) * PERIOD) : 0
          run.see({ kind: 'feedback', t: t + 3e5, joint, index: k, position, torque: 0 })
        }
      }
      return {
        findings,
        judged: figure('port.pitch', 'half strokes judged'),
        worst: figure('port.pitch', 'log dimensionless jerk, worst'),
      }
    }
    const whole = played(
      (k) => k,
      () => false,
    )
    const broken = played(periods, lost)
    expect(broken.findings).toEqual([])
    expect(broken.judged).toBe(whole.judged - 1)
    expect(broken.worst).toBeCloseTo(whole.worst, 1)
  })

  it('sees nothing outside the play, nor after a stop', () => {
    const seen = stroking(smooth, 6)
    const count = seen.figure('port.pitch', 'half strokes judged')
    seen.run.stop()
    seen.go(6)
    expect(seen.figure('port.pitch', 'half strokes judged')).toBe(count)
  })

  it('measures the blade by its own speed: lifted sideways at the same time it is the whole speed that counts', () => {
    const { watch, run } = watching('smoothness')
    const both = (j: number, k: number): number =>
      j === 1 ? smooth(k * PERIOD) : j === 0 ? 0.5 + smooth(k * PERIOD) / 2 : 0
    run.stage('play').cycles(6 / PERIOD, { feedback: both })
    expect(watch.figures().find((f) => f.place === 'port' && f.name === 'half strokes judged')!.value).toBe(3)
    expect(REACH).toBe(0.8)
  })
})

describe('speed profile', () => {
  const cut = (speeds: readonly number[], most = 100) => {
    const profile = new SpeedProfile(most, 1, 10, 0.1)
    const ended: number[][] = []
    for (const v of speeds)
      if (profile.push(v, Math.abs(v))) ended.push([...profile.speeds.slice(0, profile.n)])
    return { profile, ended }
  }

  it('begins after a reversal, and ends before the next', () => {
    expect(cut([0, 0.05, 0.5, 1, 0.5, 0.02, -0.5, -1, -0.3, 0.4]).ended).toEqual([
      [0.5, 1, 0.5],
      [1, 0.3],
    ])
  })

  it('takes a short rest for part of the movement, and ends with a long one', () => {
    const rest = (n: number): number[] => Array.from({ length: n }, () => 0)
    expect(cut([1, ...rest(4), 1, -1]).ended).toEqual([[1, 0, 0, 0, 0, 1]])
    expect(cut([1, 1, ...rest(9), 1, 1, -1]).ended).toEqual([
      [1, 1],
      [1, 1],
    ])
  })

  it('says when a movement is longer than its room', () => {
    const { profile, ended } = cut([1, 1, 1, 1, 1, -1], 3)
    expect(ended).toHaveLength(1)
    expect(profile.tooLong).toBe(true)
  })
})
