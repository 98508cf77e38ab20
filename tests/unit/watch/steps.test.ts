/** The steps watch: moves of setpoints from rest to rest, and what joints make of them. */
import { describe, expect, it } from 'vitest'
import { quintic } from '../../../src/motion/quintic.js'
import { PositionLoop } from '../../../src/plant/servo.js'
import { PERIOD } from './rig.js'
import { told, watching } from './transcript.js'

const REST = 30
/** One move of joint 1 by `height` (rad) in `time` (s), from cycle `from` on; others rest. */
const move = (height: number, time: number, from: number) => (j: number, k: number) =>
  j === 1 ? height * quintic(((k - from) * PERIOD) / time) : 0.2

/** A joint that follows its setpoint with a loop of its own; setpoint k acts a cycle later. */
function following(setpoint: (j: number, k: number) => number, loop: { frequency: number; damping: number }) {
  const servo = new PositionLoop({ ...loop, feedforward: 0 }, PERIOD)
  const m = { position: setpoint(1, 0), speed: 0 }
  return (j: number, k: number): number => {
    if (j !== 1) return setpoint(j, k)
    servo.step(m, setpoint(1, k - 2), setpoint(1, k - 1))
    return m.position
  }
}

function played(height: number, time: number, loop: { frequency: number; damping: number }, cycles = 600) {
  const watched = watching('steps')
  const setpoint = move(height, time, REST)
  const feedback = following(setpoint, loop)
  watched.run
    .stage('enable')
    .cycles(REST, { setpoint, feedback })
    .stage('approach')
    .cycles(cycles, { setpoint, feedback })
  return watched
}

describe('steps watch', () => {
  it.each([1.2, -0.3])('measures a slow move by %d rad and is quiet', (height) => {
    const { findings, figure, watch } = played(height, 1, { frequency: 12, damping: 0.8 })
    expect(findings).toEqual([])
    expect(figure('port.pitch', 'moves from rest to rest')).toBe(1)
    expect(figure('port.pitch', 'settling into 2 %, after the setpoint has arrived, longest')).toBe(0)
    expect(figure('port.pitch', 'overshoot, most')).toBeLessThan(0.001)
    // A quintic: 10 % at 0.2468 of its time and 90 % as long before its end (roots of 6 t^5 - 15 t^4 + 10 t^3 = 0.1).
    expect(figure('port.pitch', 'the same of its setpoint')).toBeCloseTo(1 - 2 * 0.246636, 3)
    expect(figure('port.pitch', 'rise 10 to 90 % of the longest move')).toBeCloseTo(1 - 2 * 0.246636, 2)
    expect(watch.figures().every((f) => f.place === 'port.pitch')).toBe(true)
  })

  it('warns of a joint that swings beyond the end of its move', () => {
    const { findings, figure } = played(1, 0.2, { frequency: 2, damping: 0.3 })
    expect(told(findings)).toEqual(['warning port.pitch overshoot', 'warning port.pitch settling'])
    expect(figure('port.pitch', 'overshoot, most')).toBeGreaterThan(0.1)
    expect(findings[0]!.stop).toBe(null)
  })

  it('warns of a joint that creeps, once', () => {
    const { findings, run } = played(1, 0.3, { frequency: 1, damping: 1.5 })
    expect(told(findings)).toEqual(['warning port.pitch settling'])
    expect(findings[0]!.value).toBeGreaterThan(0.25)
    const { k } = run
    const back = (j: number, c: number): number => (j === 1 ? 1 - quintic(((c - k) * PERIOD) / 0.3) : 0.2)
    run.cycles(600, { setpoint: back, feedback: following(back, { frequency: 1, damping: 1.5 }) })
    expect(findings.length).toBe(1)
  })

  it('does not measure small moves, ways to and fro, and what was seen in part', () => {
    const names = (watch: { figures(): unknown[] }) => watch.figures()
    expect(names(played(0.08, 1, { frequency: 12, damping: 0.8 }).watch)).toEqual([])
    const wave = watching('steps')
    const there = (j: number, k: number): number =>
      j === 1 ? Math.sin(Math.min(Math.max(k - REST, 0) * PERIOD, 2.5)) : 0
    wave.run.stage('enable').cycles(1200, { setpoint: there, feedback: there })
    expect(names(wave.watch)).toEqual([])
    const gap = watching('steps')
    const setpoint = move(1, 1, REST)
    gap.run
      .stage('enable')
      .cycles(1200, { setpoint, feedback: (j, k) => (k === 100 ? null : setpoint(j, k - 1)) })
    expect(names(gap.watch)).toEqual([])
  })

  it('measures nothing of what happens in a stop', () => {
    const { run, watch } = watching('steps')
    const setpoint = move(1, 1, REST)
    run
      .stage('play')
      .cycles(100, { setpoint, feedback: (j, k) => setpoint(j, k - 1) })
      .stop()
      .stage('stopping')
      .cycles(600, { setpoint, feedback: (j, k) => setpoint(j, k - 1) })
    expect(watch.figures()).toEqual([])
  })
})
