import { describe, expect, it } from 'vitest'
import type { SenseWatch } from '../../../src/watch/sense.js'
import { change } from '../../setup/runs.js'
import { driven } from './driven.js'
import { otherwise } from './otherwise.js'
import { PERIOD, REACH } from './rig.js'
import { NS, type Transcript, told, watching } from './transcript.js'

const SWING = 0.3
const LIFT = 1.2
/** Blade in the water at the middle of a stroke: height over the base -REACH, surface at -0.6 of it. */
const stroke = (direction: 1 | 0 | -1, s: number): { roll: number; pitch: number } => {
  // One second of drive in the water, one of recovery above it, with the blade lifted fast at the exit.
  const phase = s % 2
  if (phase < 1) return { roll: 0, pitch: direction * SWING * -Math.cos(Math.PI * phase) }
  return {
    roll: LIFT * Math.min(1, 4 * Math.sin(Math.PI * (phase - 1))),
    pitch: direction * SWING * Math.cos(Math.PI * (phase - 1)),
  }
}
/** Both arms do the same stroke; pitch up moves the blade aft. */
const paddling = (port: 1 | 0 | -1, starboard: 1 | 0 | -1, from: number) => ({
  feedback: (j: number, k: number) => {
    const { roll, pitch } = stroke(j < 3 ? port : starboard, (k - from) * PERIOD)
    return j % 3 === 0 ? roll : j % 3 === 1 ? pitch : 0
  },
})
const strokes = (watch: unknown) => (watch as SenseWatch).strokes
const RAISED = { feedback: (j: number) => (j % 3 === 0 ? LIFT : 0) }

/** Into the play stage with the blades out of the water and a command long in force. */
function commanded(run: Transcript, surge: number, yaw = 0): number {
  run.stage('play').cycles(20, RAISED).command(surge, yaw).cycles(400, RAISED)
  return run.k
}

describe('sense watch, feedback off the true position', () => {
  it('is quiet when feedback and truth agree, moving fast too', () => {
    const { run, findings, figure } = watching('sense')
    // The eye looks one period later than the sample: permitted.
    const truth = (_: number, k: number): number => 1 - Math.cos(10 * Math.max(0, k) * PERIOD)
    run.stage('seed').cycles(500, { witness: truth, feedback: (j, k) => truth(j, k - 1) })
    expect(findings).toEqual([])
    expect(figure('', 'joints witnessed')).toBe(6)
    expect(figure('port.roll', 'feedback off the true position, greatest')).toBeCloseTo(0.05, 3)
  })

  it.each([
    ['a wrong sign', (q: number) => -q],
    ['a wrong scale', (q: number) => 1.2 * q],
    ['a wrong zero', (q: number) => q + 0.05],
  ])('finds %s with the first feedback that shows it', (_, wrong) => {
    const { run, findings } = watching('sense')
    const truth = (_: number, k: number): number => 0.3 + (k > 50 ? 0.1 * (k - 50) * PERIOD : 0)
    run.cycles(10, { witness: truth })
    const since = run.t
    run.cycles(100, { witness: truth, feedback: (j, k) => (j === 5 ? wrong(truth(j, k)) : truth(j, k)) })
    expect(told(findings)).toEqual(['failure starboard.feather feedback off the true position'])
    expect(findings[0]!.t - since).toBeLessThan(2 * NS)
    expect(findings[0]!.stop).toBe(1)
  })

  it('asks for a human eye where there is no witness', () => {
    const { run, findings, watch, figure } = watching('sense')
    run.cycles(10, { feedback: () => 0 })
    expect(findings).toEqual([])
    watch.close()
    expect(told(findings)).toEqual(['warning  not witnessed'])
    expect(figure('', 'joints witnessed')).toBe(0)
  })
})

describe('sense watch, blades against the command', () => {
  it.each([
    // As fast as the blades of this paper arm go on the even part of their drive.
    ['ahead', 1, 0.715, { ahead: 5, astern: 0 }],
    ['astern', -1, -0.715, { ahead: 0, astern: 5 }],
  ] as const)('counts strokes %s and is quiet', (_, direction, surge, counted) => {
    const { run, findings, watch, figure } = watching('sense')
    const from = commanded(run, surge)
    // Ends in the middle of a recovery.
    run
      .cycles(1900, paddling(direction, direction, from))
      .stage('park')
      .cycles(10, RAISED)
    expect(findings).toEqual([])
    expect(strokes(watch)).toEqual([
      { ...counted, out: true },
      { ...counted, out: true },
    ])
    expect(figure('port', 'cadence')).toBeCloseTo(0.5, 2)
    expect(figure('port', 'way against the command')).toBeLessThan(0.03)
    // Mean speed of REACH sin(pitch) over the even part, |x| < 0.14 m, by the time that it takes.
    const half = Math.asin(0.14 / REACH)
    const seconds = (2 * Math.asin(half / SWING)) / Math.PI
    expect(figure('port', 'blade speed on the even part')).toBeCloseTo(0.28 / seconds, 1)
    expect(figure('port', 'side speed asked on the even part')).toBeCloseTo(0.715, 6)
  })

  it('finds a blade that goes the wrong way after 3 cm in the water', () => {
    const { run, findings } = watching('sense')
    const from = commanded(run, 0.3)
    run.cycles(200, paddling(1, -1, from))
    expect(told(findings)).toEqual(['failure starboard way against the command'])
    const [found] = findings
    // x = REACH sin(pitch) must have come 3 cm from its start.
    let k = from
    const x = (cycle: number): number => REACH * Math.sin(stroke(1, (cycle - from) * PERIOD).pitch)
    while (x(k) - x(from) <= 0.03) k++
    expect(found!.t / NS).toBeGreaterThan(k)
    expect(found!.t / NS).toBeLessThan(k + 2)
    expect(found!.value).toBeGreaterThan(0.03)
    expect(found!.stop).toBe(1)
  })

  it('wants the sides opposite in a pivot', () => {
    // To port: port astern, starboard ahead.
    const right = watching('sense')
    right.run.cycles(600, paddling(-1, 1, commanded(right.run, 0, 0.3)))
    expect(right.findings).toEqual([])
    const wrong = watching('sense')
    wrong.run.cycles(600, paddling(1, 1, commanded(wrong.run, 0, 0.3)))
    expect(told(wrong.findings)[0]).toBe('failure port way against the command')
    expect(wrong.findings.every((f) => f.place === 'port')).toBe(true)
  })

  it('gives a driver the time to change its sign, and no more', () => {
    const { run, findings } = watching('sense')
    // In the water, aft at 0.1 rad/s while the command turns round: 0.3 m/s at 0.4 m/s2 down and a little up again.
    run.stage('play').command(0.3).cycles(400, RAISED)
    const from = run.k
    const aft = { feedback: (j: number, k: number) => (j % 3 === 1 ? 0.05 * (k - from) * PERIOD : 0) }
    run.cycles(10, aft).command(-0.3).cycles(180, aft)
    expect(findings).toEqual([])
    // 0.95 s to zero (0.3 m/s at 0.4 m/s2, and 0.2 s of jerk), 0.3 s to settle, then 3 cm at 4 cm/s.
    run.cycles(240, aft)
    expect(told(findings)).toEqual([
      'failure port way against the command',
      'failure starboard way against the command',
    ])
    const seconds = (findings[0]!.t - (from + 10) * NS) / 1e9
    expect(seconds).toBeGreaterThan(1.75)
    expect(seconds).toBeLessThan(2.1)
  })

  it('does not let an immersed blade move along the craft when nothing is asked of it', () => {
    const { run, findings } = watching('sense')
    run
      .stage('play')
      .command(0)
      .cycles(400, paddling(1, 0, run.k))
    expect(told(findings)).toContain('failure port way against the command')
    expect(findings.every((f) => f.place === 'port')).toBe(true)
  })

  it('does not judge blades in the air, nor outside the play', () => {
    const { run, findings } = watching('sense')
    const inAir = {
      feedback: (j: number, k: number) =>
        j % 3 === 0 ? LIFT : j % 3 === 1 ? SWING * Math.sin(k * PERIOD) : 0,
    }
    commanded(run, 0.3)
    run.cycles(1000, inAir)
    run
      .command(0.3)
      .stage('park')
      .cycles(600, paddling(-1, -1, run.k))
    expect(findings).toEqual([])
  })

  it('does not count a pass that is too short, and knows a blade in the water', () => {
    const { run, watch, figure } = watching('sense')
    const from = commanded(run, 0.3)
    const short = (k: number) => stroke(1, (k - from) * PERIOD)
    run.cycles(500, {
      feedback: (j, k) => (j % 3 === 0 ? short(k).roll : j % 3 === 1 ? 0.3 * short(k).pitch : 0),
    })
    expect(strokes(watch)[0]).toEqual({ ahead: 0, astern: 0, out: false })
    // Straight down: the lowest edge is half a blade below the centre.
    run.cycles(1, { feedback: () => 0 })
    expect(figure('port', 'lowest edge above the water at the end')).toBeCloseTo(0.3 - REACH - 0.1 + 0.3, 12)
    // Centre above the surface, lowest edge not yet: cos(roll) = 0.5 / 0.8 puts the centre at 0.1 m above.
    run.cycles(1, { feedback: (j) => (j % 3 === 0 ? Math.acos(0.55 / REACH) : 0) })
    expect(strokes(watch)[0]!.out).toBe(false)
    run.cycles(1, { feedback: (j) => (j % 3 === 0 ? LIFT : 0) })
    expect(strokes(watch)[0]!.out).toBe(true)
  })

  it('skips SYNCs in which a joint is missing, and goes on', () => {
    const { run, findings, watch } = watching('sense')
    const from = commanded(run, 0.3)
    const { feedback } = paddling(1, 1, from)
    run.cycles(1900, { feedback: (j, k) => (k % 7 === j ? null : feedback(j, k)) })
    expect(findings).toEqual([])
    expect(strokes(watch).map((s) => s.ahead)).toEqual([5, 5])
  })
})

describe('sense watch, whole sets', () => {
  /** Cycles in which joint 1, of the first arm, answers SYNCs that lie so far back. */
  const behind = (run: Transcript, periods: number, count: number): void => {
    run.stage('play')
    for (const end = run.k + count; run.k < end; run.k++) {
      const { t, k } = run
      for (let joint = 0; joint < 6; joint++) {
        const index = joint === 1 ? k - periods : k
        run.see({ kind: 'feedback', t, joint, index, position: 0, torque: 0 })
      }
    }
  }

  it.each([
    [3, 300, []],
    [5, 300, ['doubt port whole sets of feedback']],
    [5, 150, []],
  ])('a joint %i SYNCs behind the others for %i periods leaves %j', (periods, count, doubts) => {
    const { run, findings, watch } = watching('sense')
    behind(run, periods, count)
    watch.close()
    expect(told(findings).filter((f) => f.startsWith('doubt'))).toEqual(doubts)
  })
})

describe('sense watch, the speed of each drive', () => {
  const servo = { frequency: 12, damping: 0.8, feedforward: 0.5 }
  const slower = (share: number) =>
    otherwise({ hears: ({ surge, yaw }) => ({ surge: (1 - share) * surge, yaw: (1 - share) * yaw }) })
  const play = (share: number, lasts = 12) =>
    driven('sense', { orders: [{ at: 0.5, surge: 0.3 }], lasts, servo, driver: slower(share) })

  it('tells it with the first drive that is off, once, and goes on', () => {
    const { findings, figure } = play(0.1)
    const of = findings.filter((f) => f.quantity === 'blade speed on the even part')
    expect(told(of)).toEqual([
      'failure port blade speed on the even part',
      'failure starboard blade speed on the even part',
    ])
    for (const f of of) {
      expect(f.value).toBeCloseTo(0.1, 2)
      expect(f.stop).toBe(null)
      // From the park place: a quarter of a stroke of 3.9 s, the ramp, and the even part of the drive at 0.27 m/s.
      expect(f.t / 1e9).toBeLessThan(0.5 + 1 + 1 + 0.42 / 0.27)
    }
    expect(figure('port', 'blade speed of one drive off by, at most')).toBeCloseTo(0.1, 2)
    expect(figure('port', 'blade speed off by')).toBeCloseTo(0.1, 2)
  })

  it.each([
    [0.04, 0],
    [-0.04, 0],
    [-0.06, 2],
  ])('a share of %f slower makes %i findings, where 5 %% are permitted', (share, count) => {
    expect(play(share).findings.filter((f) => f.watch === 'sense' && f.severity === 'failure').length).toBe(
      count,
    )
  })

  it.each([
    [0.45, null],
    [0.55, 1],
    [-0.55, 1],
  ])('a share of %f slower asks for the stop %j: beyond a half the driver is astray', (share, stop) => {
    const [found] = play(share, 14).findings.filter((f) => f.quantity === 'blade speed on the even part')
    expect(found).toMatchObject({ stop, limit: stop === null ? 0.05 : 0.5 })
  })

  it('waits for five seconds of an even command where sides are coupled', () => {
    const { findings } = driven('sense', {
      change: (text) => change(text, 'sides: free', 'sides: together'),
      orders: [{ at: 0.5, surge: 0.3 }],
      lasts: 14,
      servo,
      driver: slower(0.1),
    })
    const [found] = findings.filter((f) => f.quantity === 'blade speed on the even part')
    expect(found!.t / 1e9).toBeGreaterThan(0.5 + 0.95 + 5)
  })
})
