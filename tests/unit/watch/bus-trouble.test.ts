import { describe, expect, it } from 'vitest'
import type { BusState, BusTrouble } from '../../../src/files/event.js'
import type { Transcript } from './transcript.js'
import { told, watching } from './transcript.js'

const ALL = { feedback: () => 0 }
/** Joints 0 to 2 are on port-can. */
const STARBOARD = { feedback: (j: number) => (j < 3 ? null : 0) }

interface Said {
  readonly trouble?: BusTrouble
  readonly tx?: number | null
  readonly rx?: number | null
  readonly place?: string
}

const says = (run: Transcript, state: BusState, { trouble, tx = 0, rx = 0, place = 'port-can' }: Said = {}) =>
  run.see({
    kind: 'bus',
    t: run.t,
    place,
    state,
    trouble: trouble ?? 'none',
    transmitErrors: tx,
    receiveErrors: rx,
    says: 'said',
  })

describe('bus watch: what a controller reports', () => {
  it.each([
    ['down', 'bus state'],
    ['gone', 'bus state'],
    ['bus-off', 'bus state'],
    ['passive', 'transmit errors'],
  ] as const)('%s is a failure that stops the run, once', (state, quantity) => {
    const { run, findings } = watching('bus')
    run.stage('play').cycles(10, ALL)
    says(run, state, { tx: 128 })
    says(run, state, { tx: 128, trouble: 'no acknowledgement' })
    expect(told(findings.filter((f) => f.severity === 'failure'))).toEqual([`failure port-can ${quantity}`])
    expect(findings[0]).toMatchObject({ stop: 1, t: run.t })
  })

  it('an error-passive controller is a warning and no stop where the rig says so', () => {
    const { run, findings } = watching('bus', { watch: { bus: { passive: 'warning' } } })
    says(run, 'passive', { tx: 128 })
    expect(findings).toMatchObject([{ severity: 'warning', stop: null, value: 128, limit: 128 }])
  })

  it('counts that rise are told before they warn: once, and by how much', () => {
    const { run, findings } = watching('bus', { watch: { bus: { rise: 24 } } })
    run.stage('play').cycles(10, ALL)
    says(run, 'active', { trouble: 'bus error', tx: 8 })
    says(run, 'active', { trouble: 'bus error', tx: 23 })
    expect(told(findings)).toEqual(['warning port-can bus trouble'])
    says(run, 'active', { trouble: 'bus error', tx: 31 })
    says(run, 'active', { trouble: 'bus error', tx: 60 })
    expect(findings[1]).toMatchObject({ quantity: 'error counters, rise', value: 31, limit: 24, stop: null })
    expect(findings).toHaveLength(2)
  })

  it('counts that come and go are no rise, nor are those that rise over a long time', () => {
    const { run, findings } = watching('bus', { watch: { bus: { rise: 24 } } })
    run.stage('play').cycles(10, ALL)
    for (let i = 0; i < 20; i++)
      says(run, 'active', { trouble: 'arbitration lost', rx: i % 2 === 0 ? 20 : 0 })
    for (let i = 1; i < 6; i++) {
      run.cycles(2200, ALL)
      says(run, 'active', { trouble: 'arbitration lost', rx: 15 * i })
    }
    expect(findings).toEqual([])
  })

  it('counts that warn are told when nothing else has told of them', () => {
    const silent = watching('bus')
    says(silent.run, 'warning', { rx: 97 })
    expect(silent.findings).toMatchObject([
      { severity: 'warning', quantity: 'receive errors', value: 97, limit: 96, stop: null },
    ])
    const loud = watching('bus')
    says(loud.run, 'active', { trouble: 'bus error', tx: 8 })
    says(loud.run, 'warning', { tx: 96 })
    expect(told(loud.findings)).toEqual(['warning port-can bus trouble'])
  })

  it.each([
    ['no acknowledgement', 'warning', null, /plug of the adapter.*power.*bit rate.*termination/],
    ['bus error', 'warning', null, /bit rate.*terminating resistors/],
    ['transmit time-out', 'warning', null, /load/],
    ['transceiver', 'warning', null, /two wires/],
    ['garbled', 'warning', null, /serial rate/],
    ['receive overflow', 'doubt', null, /load/],
    ['transmit overflow', 'failure', 1, /queue/],
  ] as const)('%s is a %s, told once for each bus', (trouble, severity, stop, look) => {
    const { run, findings } = watching('bus')
    for (let n = 0; n < 3; n++) says(run, 'active', { trouble })
    expect(findings).toMatchObject([{ severity, stop, place: 'port-can', look: expect.stringMatching(look) }])
    says(run, 'active', { trouble, place: 'starboard-can' })
    expect(findings).toHaveLength(2)
  })

  it.each(['arbitration lost'] as const)('%s is no trouble', (trouble) => {
    const { run, findings } = watching('bus')
    says(run, 'active', { trouble })
    expect(findings).toEqual([])
  })

  it('a bus that comes back is said, with how long it was away', () => {
    const { run, findings } = watching('bus')
    run.stage('play').cycles(10, ALL)
    says(run, 'down')
    run.stop('bus', 'port-can').cycles(100, STARBOARD)
    says(run, 'active')
    run.cycles(10, ALL)
    expect(told(findings)).toEqual(['failure port-can bus state', 'warning port-can bus away'])
    expect(findings[1]).toMatchObject({
      value: 0.5,
      stop: null,
      why: expect.stringMatching(/^Nothing moves/),
    })
  })

  it('a plug that is in again is said too', () => {
    const { run, findings } = watching('bus')
    says(run, 'active', { trouble: 'no acknowledgement', tx: 8 })
    says(run, 'passive', { tx: 128 })
    run.cycles(100, STARBOARD)
    says(run, 'warning', { tx: 127 })
    expect(findings.at(-1)).toMatchObject({ quantity: 'bus away', value: 0.5 })
    expect(findings[1]!.says).toMatch(/^Nobody acknowledges/)
  })

  it('a bus that is lost again after it came back, or at a new start, is told again', () => {
    const { run, findings } = watching('bus')
    for (const state of ['down', 'active', 'down'] as const) says(run, state)
    expect(findings.filter((f) => f.severity === 'failure')).toHaveLength(2)
    says(run, 'gone')
    run.stage('setup')
    says(run, 'bus-off')
    expect(findings.filter((f) => f.severity === 'failure')).toHaveLength(4)
  })

  it('what is still wrong at a new start is told anew, a state and a loss of frames alike', () => {
    const { run, findings } = watching('bus')
    says(run, 'down')
    says(run, 'gone')
    says(run, 'gone', { trouble: 'transmit overflow' })
    says(run, 'gone', { trouble: 'transmit overflow' })
    expect(findings).toHaveLength(3)
    run.stage('setup')
    says(run, 'down')
    says(run, 'down', { trouble: 'transmit overflow' })
    expect(told(findings).slice(3)).toEqual(['failure port-can bus state', 'failure port-can bus trouble'])
  })

  it('a bus that comes and goes is counted each time, and said to be back once', () => {
    const { run, findings, watch } = watching('bus')
    for (const state of ['down', 'active', 'down', 'active'] as const) says(run, state)
    expect(findings.filter((f) => f.quantity === 'bus away')).toHaveLength(1)
    const lost = watch.figures().find((f) => f.place === 'port-can' && f.name === 'times lost')
    expect(lost).toMatchObject({ value: 2, limit: 0 })
  })

  it('an error-passive controller whose frames somebody acknowledges is not away', () => {
    const { run, findings, figure } = watching('bus')
    says(run, 'active', { trouble: 'bus error', tx: 100 })
    says(run, 'passive', { tx: 128 })
    says(run, 'active', { tx: 90 })
    expect(figure('port-can', 'times lost')).toBe(0)
    expect(told(findings)).not.toContain('warning port-can bus away')
  })

  it('trouble from before the counters were low again explains nothing', () => {
    const { run, findings } = watching('bus')
    says(run, 'warning', { trouble: 'no acknowledgement', tx: 96 })
    says(run, 'active', { tx: 0 })
    says(run, 'passive', { rx: 128 })
    expect(findings.at(-1)!.says).toMatch(/^The controller is error passive/)
  })

  it('does not blame the machine for the SYNC that could not go out', () => {
    const { run, findings, watch } = watching('bus')
    run.stage('play').cycles(100, ALL)
    says(run, 'down')
    run.stop('bus', 'port-can')
    run.k += 400
    says(run, 'active')
    run.cycles(100, ALL)
    watch.close()
    expect(findings.filter((f) => f.quantity === 'SYNC period' && f.place === 'port-can')).toEqual([])
  })

  it('counts error frames and outages, and keeps the greatest counters', () => {
    const { run, figure, watch } = watching('bus')
    says(run, 'active', { trouble: 'bus error', tx: 8, rx: 3 })
    says(run, 'active', { trouble: 'no acknowledgement', tx: 40, rx: 1 })
    says(run, 'active', { trouble: 'transmit time-out', tx: 20 })
    says(run, 'bus-off', { tx: 256 })
    says(run, 'active', { trouble: 'restarted' })
    expect(figure('port-can', 'error frames reported')).toBe(2)
    expect(figure('port-can', 'times lost')).toBe(1)
    expect(figure('port-can', 'transmit errors, greatest')).toBe(256)
    expect(figure('port-can', 'receive errors, greatest')).toBe(3)
    // Counters that nobody could read are not zero.
    says(run, 'active', { trouble: 'bus error', tx: null, rx: null, place: 'starboard-can' })
    const names = watch.figures().flatMap((f) => (f.place === 'starboard-can' ? [f.name] : []))
    expect(names).toContain('error frames reported')
    expect(names.filter((name) => /errors, greatest/.test(name))).toEqual([])
  })
})

describe('one cause, one finding', () => {
  it('silence: joints of a bus that is lost are not told one by one, those of others are', () => {
    const { run, findings } = watching('silence')
    run.stage('play').cycles(20, ALL)
    says(run, 'down')
    run.cycles(20, { feedback: (j) => (j === 4 || j < 3 ? null : 0) })
    expect(told(findings)).toEqual(['failure starboard.pitch feedback age'])
  })

  it('silence: a whole bus that falls silent without a word is one finding, at the bus', () => {
    const { run, findings } = watching('silence')
    run.stage('play').cycles(20, ALL).cycles(20, STARBOARD)
    expect(told(findings)).toEqual(['failure port-can feedback age'])
    expect(findings[0]).toMatchObject({ stop: 1, says: expect.stringMatching(/every joint on this bus/) })
  })

  it('stopping: a bus that is lost after the stop is one doubt', () => {
    const { run, findings, watch } = watching('stopping')
    run.stage('play').cycles(20, ALL).stop().stage('stopping').cycles(100, STARBOARD)
    watch.close()
    const doubts = findings.filter((f) => f.severity === 'doubt' && f.quantity === 'feedback after the stop')
    expect(doubts.map((f) => f.place)[0]).toBe('port-can')
    expect(doubts.filter((f) => /^port\./.test(f.place))).toEqual([])
  })

  it('stopping: joints of the lost bus that the stop names need not be seen; others must be', () => {
    const lost = watching('stopping')
    lost.run.stage('play').cycles(20, ALL)
    says(lost.run, 'down')
    lost.run.stop('bus', 'port-can').stage('stopping').cycles(500, STARBOARD)
    lost.watch.close()
    expect(lost.findings).toEqual([])
    expect(lost.figure('', 'joints not seen after the stop')).toBe(3)
    const other = watching('stopping')
    other.run.stage('play').cycles(20, ALL)
    says(other.run, 'down', { place: 'starboard-can' })
    other.run.stop('bus', 'starboard-can').stage('stopping').cycles(500, STARBOARD)
    other.watch.close()
    expect(other.findings.map((f) => f.place)).toEqual(['port-can'])
  })

  it('drive: nodes that left operational while their bus was lost are no news, one that boots is', () => {
    const { run, findings } = watching('drive')
    const node = (joint: number, state: 'operational' | 'pre-operational' | 'boot-up') =>
      run.see({ kind: 'heartbeat', t: run.t, bus: 0, node: 11 + joint, joint, state })
    run.stage('play').see({ kind: 'nmt', t: run.t, bus: 0, node: 0, command: 'start' }).cycles(40, ALL)
    for (const j of [0, 1, 2]) node(j, 'operational')
    says(run, 'down')
    run.stop('bus', 'port-can').cycles(40, STARBOARD)
    says(run, 'active')
    for (const j of [0, 1, 2]) node(j, 'pre-operational')
    expect(findings).toEqual([])
    node(1, 'boot-up')
    expect(findings.map((f) => f.place)).toEqual(['port.pitch'])
  })
})
