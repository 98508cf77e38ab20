import { describe, expect, it } from 'vitest'
import type { DriveCommand, DriveState, NmtCommand, NodeState } from '../../../src/wire/observation.js'
import { type Transcript, told, watching } from './transcript.js'

const word: Record<DriveState, number> = {
  'not ready to switch on': 0x00,
  'switch on disabled': 0x40,
  'ready to switch on': 0x21,
  'switched on': 0x23,
  'operation enabled': 0x27,
  'quick stop active': 0x07,
  'fault reaction active': 0x0f,
  fault: 0x08,
}
const says = (
  run: Transcript,
  joint: number,
  state: DriveState,
  follows = state === 'operation enabled',
): Transcript => run.see({ kind: 'state', t: run.t, joint, state, follows, word: word[state] })
const emergency = (run: Transcript, joint: number, code: number): Transcript =>
  run.see({ kind: 'emergency', t: run.t, bus: 0, joint, code, register: 1 })

const command = (run: Transcript, c: DriveCommand): Transcript => {
  for (const { index: bus } of run.rig.buses)
    run.see({ kind: 'control', t: run.t, bus, joint: -1, command: c, word: 0, sent: true })
  return run
}
const nmt = (run: Transcript, c: NmtCommand): Transcript => {
  for (const { index: bus } of run.rig.buses) run.see({ kind: 'nmt', t: run.t, bus, node: 0, command: c })
  return run
}
const beat = (run: Transcript, joint: number, state: NodeState): Transcript => {
  const { bus, node } = run.rig.joints[joint]!.wire
  return run.see({ kind: 'heartbeat', t: run.t, bus, node, joint, state })
}
const undefinedState = (run: Transcript, joint: number, statusword: number): Transcript =>
  run.see({ kind: 'state', t: run.t, joint, state: 'unknown', follows: false, word: statusword })

function enabled() {
  const watched = watching('drive')
  const { run } = watched
  run.stage('setup').stage('seed').stage('enable')
  for (const { index } of watched.rig.joints) {
    for (const s of ['switch on disabled', 'ready to switch on', 'switched on'] as const) says(run, index, s)
    says(run, index, 'operation enabled')
  }
  command(run, 'enable operation')
  run.stage('approach').stage('play')
  return watched
}

describe('drive watch', () => {
  it('is quiet for a good run: enabled, played, disabled', () => {
    const { run, findings, rig } = enabled()
    command(run.stage('park').stage('disable'), 'shutdown')
    for (const { index } of rig.joints) says(says(run, index, 'switched on'), index, 'ready to switch on')
    expect(findings).toEqual([])
  })

  it('is quiet for what a stop brings about', () => {
    const { run, findings } = enabled()
    command(run, 'quick stop').stop().stage('stopping')
    says(says(run, 0, 'quick stop active'), 1, 'quick stop active')
    command(run, 'disable voltage')
    says(says(run, 0, 'switch on disabled'), 1, 'switch on disabled')
    expect(findings).toEqual([])
  })

  it('finds a drive that leaves operation by itself', () => {
    const { run, findings, figure } = enabled()
    run.k = 77
    says(run, 3, 'switch on disabled')
    expect(told(findings)).toEqual(['failure starboard.roll drive state'])
    expect(findings[0]).toMatchObject({ t: run.t, stop: 1, value: 0x40, limit: 0x27 })
    expect(figure('starboard.roll', 'left operation untold')).toBe(1)
  })

  it('finds a fault once, on its way through fault reaction', () => {
    const { run, findings } = enabled()
    says(says(run, 3, 'fault reaction active'), 3, 'fault')
    expect(told(findings)).toEqual(['failure starboard.roll drive state'])
    expect(findings[0]!.says).toContain('fault reaction active')
  })

  it('finds a fault before operation, but not the one that set-up finds and resets', () => {
    const { run, findings } = watching('drive')
    says(run.stage('setup'), 1, 'fault')
    expect(told(findings)).toEqual(['warning port.pitch drive state'])
    expect(findings[0]!.says).toMatch(/in fault before it was enabled/)
    says(run.stage('seed'), 1, 'switch on disabled')
    says(run, 2, 'fault')
    expect(told(findings.splice(0)).at(-1)).toBe('warning port.feather drive state')
    says(run.stage('enable'), 1, 'fault')
    expect(told(findings)).toEqual(['failure port.pitch drive state'])
    expect(findings[0]!.stop).toBe(1)
  })

  it('finds a fault while drives are disabled, and after a stop', () => {
    const { run, findings } = enabled()
    command(run.stage('park').stage('disable'), 'shutdown')
    says(says(run, 0, 'ready to switch on'), 1, 'fault')
    expect(told(findings)).toEqual(['failure port.pitch drive state'])
    const stopped = enabled()
    command(stopped.run, 'quick stop').stop().stage('stopping')
    says(says(stopped.run, 0, 'quick stop active'), 0, 'fault')
    expect(told(stopped.findings)).toEqual(['failure port.roll drive state'])
  })

  it('finds a drive that is switched on again after a stop, by whatever step', () => {
    for (const state of ['ready to switch on', 'switched on', 'operation enabled'] as const) {
      const { run, findings } = enabled()
      command(run, 'quick stop').stop().stage('stopping')
      says(run, 0, 'quick stop active')
      command(run, 'disable voltage')
      says(run, 0, 'switch on disabled').stage('stopped')
      expect(findings).toEqual([])
      says(run, 0, state)
      expect(told(findings)).toEqual(['failure port.roll drive state'])
    }
  })

  it('excuses what an earlier command still does when the stop comes, until the stop was obeyed', () => {
    const { run, findings } = watching('drive')
    command(run.stage('setup').stage('seed').stage('enable'), 'switch on')
    says(says(run, 0, 'ready to switch on'), 0, 'switched on')
    command(run, 'enable operation')
    command(run, 'quick stop').stop('signal').stage('stopping')
    says(says(run, 0, 'operation enabled'), 0, 'quick stop active')
    expect(findings).toEqual([])
    says(run, 0, 'operation enabled')
    expect(told(findings)).toEqual(['failure port.roll drive state'])
  })

  it.each(['seed', 'enable', 'approach', 'play', 'park', 'disable', 'stopped'] as const)(
    'finds a statusword that the standard does not define, in %s',
    (stage) => {
      const { run, findings } = enabled()
      if (stage === 'stopped') run.stop()
      undefinedState(run.stage(stage), 3, 0x0605)
      expect(told(findings)).toEqual(['failure starboard.roll drive state'])
      expect(findings[0]).toMatchObject({ stop: 1, value: 0x05, says: expect.stringContaining('05h') })
    },
  )

  it('finds a drive that restarts, once, in any stage from its start on', () => {
    for (const stage of ['seed', 'play', 'disable', 'stopped'] as const) {
      const { run, findings } = watching('drive')
      nmt(run.stage('setup'), 'start').stage(stage)
      run.k = 100
      beat(beat(beat(run, 2, 'operational'), 2, 'boot-up'), 2, 'pre-operational')
      expect(told(findings)).toEqual(['failure port.feather node state'])
      expect(findings[0]).toMatchObject({ stop: 1, says: expect.stringContaining('restarted') })
    }
  })

  it.each(['pre-operational', 'stopped', 'unknown'] as const)(
    'finds a started node that says %s',
    (state) => {
      const { run, findings } = watching('drive')
      nmt(run.stage('setup'), 'start').stage('seed')
      // One on its way when the node was started.
      beat(run, 4, 'pre-operational')
      run.k = 10
      beat(run, 4, 'operational')
      expect(findings).toEqual([])
      run.k = 20
      beat(run.stage('play'), 4, state)
      expect(told(findings)).toEqual(['failure starboard.pitch node state'])
      expect(findings[0]!.says).toContain(state)
    },
  )

  it('does not wonder at drives left enabled by an earlier run that NMT reset has switched off', () => {
    const { run, findings } = watching('drive')
    says(run.stage('setup'), 1, 'operation enabled')
    nmt(run, 'reset communication')
    says(nmt(run, 'start').stage('seed'), 1, 'switch on disabled')
    expect(findings).toEqual([])
  })

  it('knows what NMT commands of ours bring about, at the beginning, at the end and in a new start', () => {
    const { run, findings } = watching('drive')
    nmt(run.stage('setup'), 'reset communication')
    beat(beat(run, 1, 'boot-up'), 1, 'pre-operational')
    nmt(run, 'start').stage('seed').k = 100
    beat(run, 1, 'operational').stop().stage('stopping').stage('stopped')
    nmt(run.stage('setup'), 'pre-operational')
    beat(run, 1, 'pre-operational')
    says(run, 1, 'switch on disabled')
    nmt(run, 'start').stage('seed').k = 200
    beat(run, 1, 'operational')
    nmt(run, 'pre-operational')
    beat(run, 1, 'pre-operational')
    expect(findings).toEqual([])
  })

  it('finds a drive that no longer follows', () => {
    const { run, findings } = enabled()
    says(run, 5, 'operation enabled', false)
    expect(told(findings)).toEqual(['failure starboard.feather drive follows'])
  })

  it('tells each emergency code of a joint once and counts all; code 0 is no error', () => {
    const { run, findings, figure } = enabled()
    emergency(emergency(emergency(run, 2, 0x8611), 2, 0x8611), 2, 0)
    expect(told(findings)).toEqual(['failure port.feather emergency'])
    expect(findings[0]!.says).toContain('8611h')
    expect(findings[0]!.stop).toBe(1)
    emergency(run, 2, 0x2310)
    expect(findings).toHaveLength(2)
    expect(figure('port.feather', 'emergency messages')).toBe(3)
  })

  it('only warns of an emergency message while drives are set up', () => {
    const { run, findings } = watching('drive')
    emergency(run.stage('setup'), 0, 0x8130)
    expect(told(findings)).toEqual(['warning port.roll emergency'])
  })
})
