import { describe, expect, it } from 'vitest'
import type { DriveState } from '../../../src/wire/observation.js'
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

function enabled() {
  const watched = watching('drive')
  const { run } = watched
  run.stage('setup').stage('seed').stage('enable')
  for (const { index } of watched.rig.joints) {
    for (const s of ['switch on disabled', 'ready to switch on', 'switched on'] as const) says(run, index, s)
    says(run, index, 'operation enabled')
  }
  run.stage('approach').stage('play')
  return watched
}

describe('drive watch', () => {
  it('is quiet for a good run: enabled, played, disabled', () => {
    const { run, findings, rig } = enabled()
    run.stage('park').stage('disable')
    for (const { index } of rig.joints) says(run, index, 'switched on')
    expect(findings).toEqual([])
  })

  it('is quiet for what a stop brings about', () => {
    const { run, findings } = enabled()
    run.stop().stage('stopping')
    says(says(run, 0, 'quick stop active'), 0, 'switch on disabled')
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
    says(run.stage('seed'), 1, 'switch on disabled')
    expect(findings).toEqual([])
    says(run.stage('enable'), 1, 'fault')
    expect(told(findings)).toEqual(['failure port.pitch drive state'])
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
