import { describe, expect, it } from 'vitest'
import type { NmtCommand, NodeState } from '../../../src/wire/observation.js'
import { NS, type Transcript, told, watching } from './transcript.js'

const ALL = { feedback: () => 0 }
const without = (joint: number) => ({ feedback: (j: number) => (j === joint ? null : 0) })
const nmt = (run: Transcript, command: NmtCommand): Transcript => {
  for (const bus of [0, 1]) run.see({ kind: 'nmt', t: run.t, bus, node: 0, command })
  return run
}
const beat = (run: Transcript, joint: number, state: NodeState): Transcript =>
  run.see({ kind: 'heartbeat', t: run.t, bus: 0, node: 11 + joint, joint, state })

/** A heartbeat of every drive. */
const beating = (run: Transcript): Transcript => {
  for (const { index: joint, wire } of run.rig.joints) {
    const { bus, node } = wire
    run.see({ kind: 'heartbeat', t: run.t, bus, node, joint, state: 'operational' })
  }
  return run
}
/** The same cycles with a heartbeat of every drive each 50 ms. */
const alive = (run: Transcript, count: number, cycle: Parameters<Transcript['cycles']>[1]): Transcript => {
  for (let left = count; left > 0; left -= 10) beating(run).cycles(Math.min(10, left), cycle)
  return run
}

describe('silence watch', () => {
  it('is quiet while every SYNC is answered', () => {
    const { run, findings, figure } = watching('silence')
    alive(nmt(run, 'start').stage('play'), 400, ALL)
    expect(findings).toEqual([])
    expect(figure('port.roll', 'SYNC without answer')).toBe(0)
    expect(figure('port.roll', 'oldest feedback')).toBeCloseTo(0.005, 9)
  })

  it('finds a lost joint at the first SYNC after three periods', () => {
    const { run, findings, figure } = watching('silence')
    nmt(run, 'start').stage('play').cycles(100, ALL)
    const lastAnswer = 99 * NS + 300_000 + 2 * 50_000
    run.cycles(3, without(2))
    expect(findings).toEqual([])
    run.cycles(90, without(2))
    expect(told(findings)).toEqual(['failure port.feather feedback age'])
    const [found] = findings
    expect(found!.t).toBe(103 * NS)
    expect(found!.value).toBeCloseTo((103 * NS - lastAnswer) / 1e9, 9)
    expect(found!.limit).toBeCloseTo(0.015, 6)
    expect(found!.stop).toBe(1)
    expect(figure('port.feather', 'SYNC without answer')).toBe(92)
  })

  it('passes two lost frames, and counts them', () => {
    const { run, findings, figure } = watching('silence')
    run.stage('play').cycles(100, ALL).cycles(2, without(0)).cycles(100, ALL)
    expect(findings).toEqual([])
    expect(figure('port.roll', 'SYNC without answer')).toBe(2)
    expect(figure('port.roll', 'oldest feedback')).toBeCloseTo(0.015, 4)
  })

  it.each([
    [14.7, 0],
    [16, 1],
  ])('feedback that comes again after %s ms, between two looks, is %i finding', (ms, count) => {
    const { run, findings } = watching('silence')
    run.stage('play').cycles(100, ALL)
    const last = 99 * NS + 300_000
    // The third SYNC without answer comes 14.7 ms after the last answer: the watch bears 15.
    run.cycles(3, without(0))
    const t = last + ms * 1e6
    run.see({ kind: 'feedback', t, joint: 0, index: 102, position: 0, torque: 0 })
    expect(told(findings)).toEqual(Array(count).fill('failure port.roll feedback age'))
    for (const found of findings) {
      expect(found).toMatchObject({ t, stop: 1 })
      expect(found.value).toBeCloseTo(ms / 1000, 9)
    }
  })

  it('a bench that stood still itself, and hears late what came meanwhile, finds nobody silent', () => {
    const { run, findings, figure } = watching('silence')
    run.stage('play').cycles(100, ALL)
    const last = 99 * NS + 300_000
    for (const bus of [0, 1]) run.see({ kind: 'sync', t: run.t, bus, index: 100 })
    run.see({ kind: 'feedback', t: last + 25e6, joint: 0, index: 100, position: 0, torque: 0 })
    expect(findings).toEqual([])
    expect(figure('port.roll', 'oldest feedback')).toBeCloseTo(0.025, 9)
  })

  it('tells a joint that was never seen apart from one that was lost', () => {
    const { run, findings } = watching('silence')
    alive(nmt(run, 'start').stage('seed'), 300, without(4))
    expect(told(findings)).toEqual(['failure starboard.pitch never seen'])
    expect(findings[0]!.t).toBe(201 * NS)
    expect(findings[0]!.limit).toBe(1)
  })

  it('waits for no feedback before the nodes are started', () => {
    const { run, findings } = watching('silence')
    run.stage('setup').cycles(1000, {}).stage('seed').cycles(1000, {})
    expect(findings).toEqual([])
  })

  it('knows a pause of SYNC from silence', () => {
    const { run, findings, figure } = watching('silence')
    run.stage('play').cycles(100, ALL)
    run.k += 500
    run.cycles(1, ALL)
    expect(findings).toEqual([])
    expect(figure('port.roll', 'oldest feedback')).toBeLessThan(0.006)
    run.k += 500
    run.cycles(3, {})
    expect(findings).toEqual([])
    run.cycles(2, {})
    expect(findings.map((f) => f.place)).toEqual(['port-can', 'starboard-can'])
  })

  it('knows a node that NMT has silenced from a lost one', () => {
    const { run, findings } = watching('silence')
    nmt(run, 'start').stage('play').cycles(100, ALL)
    nmt(run, 'pre-operational').cycles(200, {})
    expect(findings).toEqual([])
    nmt(run, 'start').cycles(10, {})
    expect(findings.map((f) => f.place)).toEqual(['port-can', 'starboard-can'])
  })

  it('leaves what is lost after a stop to the stopping watch, until a new start-up', () => {
    const { run, findings, figure } = watching('silence')
    run.stage('play').cycles(100, ALL).stop().stage('stopping').cycles(50, without(1))
    expect(findings).toEqual([])
    expect(figure('port.pitch', 'oldest feedback')).toBeGreaterThan(0.2)
    run.cycles(50, ALL).stage('setup').cycles(50, without(1))
    expect(findings).toEqual([])
    run.cycles(50, ALL).stage('seed').cycles(10, without(1))
    expect(told(findings)).toEqual(['failure port.pitch feedback age'])
  })

  it('watches heartbeats from the first one that is no boot-up', () => {
    const { run, findings, figure } = watching('silence')
    beat(run, 1, 'boot-up').cycles(200, ALL)
    expect(findings).toEqual([])
    for (let i = 0; i < 5; i++) beat(run, 1, 'operational').cycles(10, ALL)
    expect(findings).toEqual([])
    const last = run.t - 10 * NS
    run.cycles(100, ALL)
    expect(told(findings)).toEqual(['failure port.pitch heartbeat age'])
    // Three heartbeat periods of 50 ms; seen with the first SYNC or tick after them.
    expect(findings[0]!.t).toBe(last + 31 * NS)
    expect(figure('port.pitch', 'oldest heartbeat')).toBeGreaterThan(0.15)
  })

  it('waits for no heartbeat of a node that was reset', () => {
    const { run, findings } = watching('silence')
    beat(run, 1, 'operational')
    nmt(run, 'reset communication').cycles(200, {})
    expect(findings).toEqual([])
  })
  it('tells a started drive that never sends a heartbeat apart from one whose heartbeat has ceased', () => {
    const { run, findings } = watching('silence')
    nmt(run, 'start').stage('seed')
    const others = (): void => {
      for (const { index, wire } of run.rig.joints)
        if (index !== 4)
          run.see({
            kind: 'heartbeat',
            t: run.t,
            bus: wire.bus,
            node: wire.node,
            joint: index,
            state: 'operational',
          })
    }
    for (let i = 0; i < 30; i++) {
      others()
      run.cycles(10, ALL)
    }
    expect(told(findings)).toEqual(['failure starboard.pitch heartbeat never seen'])
    expect(findings[0]).toMatchObject({ t: 201 * NS, limit: 1, stop: 1 })
  })

  it('counts a heartbeat from before the start, which set-up has asked for', () => {
    const { run, findings } = watching('silence')
    run.stage('setup')
    beating(run)
    alive(nmt(run, 'start').stage('seed'), 300, ALL)
    expect(findings).toEqual([])
  })

  it('takes the boot-up of a started node for no heartbeat, and goes on watching', () => {
    const { run, findings } = watching('silence')
    beating(nmt(run, 'start').stage('play')).cycles(10, ALL)
    beat(run, 1, 'boot-up')
    const others = (): void => {
      for (const j of [0, 2]) beat(run, j, 'operational')
      for (const j of [3, 4, 5])
        run.see({ kind: 'heartbeat', t: run.t, bus: 1, node: 8 + j, joint: j, state: 'operational' })
    }
    for (let i = 0; i < 5; i++) {
      others()
      run.cycles(10, ALL)
    }
    expect(told(findings)).toEqual(['failure port.pitch heartbeat age'])
  })
})
