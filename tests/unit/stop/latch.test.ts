/** ISO 13850 and IEC 60204-1, 9.2.5.4: the emergency stop latches, overrides everything, and its release only permits a restart. */
import { describe, expect, it } from 'vitest'
import { type LatchInput, type LatchState, latch, mayMove } from '../../../src/stop/latch.js'

function after(...inputs: LatchInput[]): LatchState {
  return inputs.reduce<LatchState>((state, input) => latch(state, input) ?? state, 'free')
}

describe('stop latch', () => {
  it('goes stop, release, reset, start, and may move only at the end', () => {
    let state: LatchState = 'free'
    const seen: [LatchState, boolean][] = []
    for (const input of ['stop', 'release', 'reset', 'start'] as const) {
      state = latch(state, input)!
      seen.push([state, mayMove(state)])
    }
    expect(seen).toEqual([
      ['stopped', false],
      ['released', false],
      ['reset', false],
      ['free', true],
    ])
  })

  it.each([
    [['stop', 'start']],
    [['stop', 'reset']],
    [['stop', 'reset', 'start']],
    [['stop', 'release', 'start']],
    [['stop', 'release', 'stop', 'reset']],
    [['stop', 'release', 'reset', 'stop', 'start']],
  ] as [LatchInput[]][])('%j does not permit motion', (inputs) => {
    expect(mayMove(after(...inputs))).toBe(false)
  })

  it('takes a stop in every state', () => {
    for (const state of ['free', 'stopped', 'released', 'reset'] as const)
      expect(latch(state, 'stop')).toBe('stopped')
  })

  it('refuses what is out of order instead of ignoring it', () => {
    expect(latch('stopped', 'reset')).toBeNull()
    expect(latch('stopped', 'start')).toBeNull()
    expect(latch('released', 'start')).toBeNull()
    expect(latch('free', 'release')).toBeNull()
  })
})
