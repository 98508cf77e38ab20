import { describe, expect, it } from 'vitest'
import type { NodeState } from '../../../src/wire/observation.js'
import { NS, told, watching } from './transcript.js'

const MS = 1e6
/** Period of the drives' heartbeats in the test rig. */
const BEAT = 50 * MS

function ordered() {
  const seen = watching('order')
  const nmt = (t: number) => seen.run.see({ kind: 'nmt', t, bus: 0, node: 0, command: 'start' })
  const beat = (t: number, state: NodeState = 'operational') =>
    seen.run.see({ kind: 'heartbeat', t, bus: 0, node: 12, joint: 1, state })
  return { ...seen, nmt, beat }
}

describe('order watch: one drive a node', () => {
  it('says nothing of heartbeats in time, late, or several at once', () => {
    const { nmt, beat, findings } = ordered()
    nmt(0)
    for (let i = 1; i < 200; i++) beat(i * BEAT + (i % 3) * 5 * MS)
    for (let i = 0; i < 6; i++) beat(200 * BEAT + i * MS)
    for (let i = 201; i < 260; i++) beat(i * BEAT)
    expect(findings).toEqual([])
  })

  it.each([
    ['in mid-run', 100, 12],
    ['right after the start', 0, 20],
    ['again and again', 100, 6],
  ])('takes heartbeats that all came late, %s, for those of one drive', (when, first, late) => {
    const { nmt, beat, findings } = ordered()
    nmt(0)
    // The machine stood still, and hears at once what came meanwhile: after the first of them, 24 in the time of 12.
    const stillAt = (i: number) => i > first && (when === 'again and again' || i <= first + late)
    const heard = (i: number) => (stillAt(i) ? first + Math.ceil((i - first) / late) * late : i)
    for (let i = 1; i < 200; i++) beat(heard(i) * BEAT + (i % late))
    expect(findings).toEqual([])
  })

  it('finds two drives also where heartbeats come in clusters, or some were lost before', () => {
    const clusters = ordered()
    clusters.nmt(0)
    for (let i = 1; i < 60; i++) {
      clusters.beat(Math.ceil(i / 4) * 4 * BEAT)
      clusters.beat(Math.ceil(i / 4) * 4 * BEAT + 1)
    }
    expect(told(clusters.findings)).toEqual(['failure port.pitch heartbeat period'])

    const lossy = ordered()
    lossy.nmt(0)
    // Of each ten one is lost, for half a minute: what is missed for good is no credit that lasts.
    for (let i = 1; i < 600; i++) if (i % 10 !== 0) lossy.beat(i * BEAT)
    for (let i = 600; i < 700; i++) {
      lossy.beat(i * BEAT)
      lossy.beat((i + 0.4) * BEAT)
    }
    expect(told(lossy.findings)).toEqual(['failure port.pitch heartbeat period'])
    expect((lossy.findings[0]!.t - 600 * BEAT) / BEAT).toBeLessThan(40)
  })

  it('stops the arms when heartbeats come twice as often as they should', () => {
    const { nmt, beat, findings } = ordered()
    nmt(0)
    for (let i = 1; i < 60; i++) {
      beat(i * BEAT)
      if (i >= 20) beat(i * BEAT + 17 * MS)
    }
    expect(told(findings)).toEqual(['failure port.pitch heartbeat period'])
    expect(findings[0]).toMatchObject({ stop: 1, limit: 0.05 })
    // 23 intervals of 25 ms each would take 0.6 s; two thirds of their time are up a little sooner.
    expect((findings[0]!.t - 20 * BEAT) / 1e9).toBeLessThan(0.6)
  })

  it('stops the arms when a node is operational again that nobody has started', () => {
    const { nmt, beat, findings } = ordered()
    nmt(0)
    beat(BEAT, 'pre-operational') // sent before the start came in
    beat(2 * BEAT)
    beat(2.2 * BEAT, 'boot-up')
    expect(findings).toEqual([])
    beat(3 * BEAT)
    expect(told(findings)).toEqual(['failure port.pitch nodes that speak'])
  })

  it('takes no node for two that left operational and was started anew', () => {
    const { nmt, beat, findings } = ordered()
    nmt(0)
    beat(BEAT)
    beat(2 * BEAT, 'pre-operational')
    nmt(2.5 * BEAT)
    beat(3 * BEAT)
    expect(findings).toEqual([])
  })

  it('stops the arms when SYNCs are answered twice with different positions', () => {
    const { run, findings, figure } = ordered()
    run.cycles(50, { feedback: () => 0.1 })
    run.cycles(10, { feedback: (j) => (j === 1 ? [0.1, 0.3] : 0.1) })
    expect(findings).toEqual([])
    run.cycles(5, { feedback: (j) => (j === 1 ? [0.1, 0.3] : 0.1) })
    expect(told(findings)).toEqual(['failure port.pitch SYNCs in a row with two answers'])
    expect(findings[0]!.t).toBeCloseTo(60 * NS + 350_000, -2)
    expect(figure('port.pitch', 'SYNCs in a row with two answers')).toBe(15)
  })

  it('begins to count anew after a SYNC with one answer', () => {
    const { run, findings, figure } = ordered()
    run.cycles(60, { feedback: (j, k) => (j === 1 && k % 4 !== 0 ? [0.1, 0.3] : 0.1) })
    expect(findings).toEqual([])
    expect(figure('port.pitch', 'SYNCs in a row with two answers')).toBe(3)
  })

  it('takes frames that come twice, and late ones that come with the next, for no second drive', () => {
    const { run, findings } = ordered()
    run.cycles(100, { feedback: () => [0.1, 0.1] })
    // Each second SYNC is answered with the next one.
    run.cycles(100, { feedback: (_, k) => (k % 2 === 0 ? null : [0.001 * k, 0.001 * (k + 1)]) })
    expect(findings).toEqual([])
  })
})

describe('order watch: times', () => {
  const tick = (k: number, t: number, late = 0) =>
    ({ kind: 'tick', t, k, late, setpoints: null, witness: null }) as const

  it('says nothing of late and missed ticks, whose lateness is told', () => {
    const { run, findings } = ordered()
    run
      .see(tick(0, 0))
      .see(tick(1, NS))
      .see(tick(2, 2 * NS + 3 * MS, 3 * MS))
    // Three missed: it comes with the deadline of tick 6, late since that of tick 3.
    run
      .see(tick(6, 6 * NS, 3 * NS))
      .see(tick(7, 7 * NS))
      .see(tick(107, 107 * NS))
    expect(findings).toEqual([])
  })

  it.each([
    ['a jump ahead', 2 * NS + 5e9],
    ['a jump back', -5e9],
  ])('doubts a run whose clock made %s, once', (_, t) => {
    const { run, findings, figure } = ordered()
    run
      .see(tick(0, 0))
      .see(tick(1, NS))
      .see(tick(2, t))
      .see(tick(3, t + NS))
    expect(told(findings)).toEqual(['doubt  time between ticks'])
    expect(figure('', 'jumps of time between ticks')).toBeGreaterThan(0)
  })

  it('doubts a run in which a frame was heard before one that came earlier', () => {
    const { run, findings, figure } = ordered()
    const frame = (t: number, sent = false) =>
      run.see({ kind: 'frame', t, bus: 1, id: 0x18b, sent, bits: 120 })
    frame(10 * MS)
    frame(9.5 * MS) // the clocks of adapters are converted
    frame(2 * MS, true) // ours have the time of being handed over
    expect(findings).toEqual([])
    frame(7 * MS)
    expect(told(findings)).toEqual(['doubt starboard-can time of a frame'])
    expect(findings[0]!.value).toBeCloseTo(3e-3, 9)
    expect(figure('', 'times that went back')).toBe(1)
  })
})
