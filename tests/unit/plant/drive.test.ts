import { describe, expect, it } from 'vitest'
import {
  AT_POWER_ON,
  type DriveInput,
  type DriveSettings,
  type DriveStatus,
  driveStep,
} from '../../../src/plant/drive.js'
import { CONTROLWORD } from '../../../src/wire/cia402/state.js'
import type { DriveCommand, DriveState } from '../../../src/wire/observation.js'

const SETTINGS: DriveSettings = { mode: 8, quickStop: 2, faultReaction: 2, linkLost: 3 }

type Word = DriveCommand | Exclude<DriveInput['kind'], 'controlword'>

/** Says the words one after another; each answer is the state and, where it is not free, the motion. */
function talk(words: Word[], settings: Partial<DriveSettings> = {}): string[] {
  let status: DriveStatus = AT_POWER_ON
  return words.map((word) => {
    const input: DriveInput =
      word in CONTROLWORD
        ? { kind: 'controlword', word: CONTROLWORD[word as DriveCommand] }
        : { kind: word as Exclude<DriveInput['kind'], 'controlword'> }
    status = driveStep(status, input, { ...SETTINGS, ...settings })
    return status.motion === 'free' ? status.state : `${status.state}, ${status.motion}`
  })
}
const UP: Word[] = ['self-test passed', 'shutdown', 'switch on', 'enable operation']
const fromOperation = (words: Word[], settings: Partial<DriveSettings> = {}) =>
  talk([...UP, ...words], settings).slice(UP.length)

describe('the way up and down', () => {
  it('goes up step by step', () => {
    expect(talk(UP)).toEqual([
      'switch on disabled',
      'ready to switch on',
      'switched on',
      'operation enabled, follow',
    ])
  })
  it('hears nothing before its self-test', () => {
    expect(talk(['shutdown', 'enable operation'])).toEqual([
      'not ready to switch on',
      'not ready to switch on',
    ])
  })
  it('cannot skip shutdown', () => {
    expect(talk(['self-test passed', 'switch on', 'enable operation'])).toEqual(
      Array(3).fill('switch on disabled'),
    )
  })
  it('takes enable operation in ready to switch on for both steps', () => {
    expect(talk(['self-test passed', 'shutdown', 'enable operation']).at(-1)).toBe(
      'operation enabled, follow',
    )
  })
  it('refuses operation in any mode but cyclic synchronous position', () => {
    expect(talk(UP, { mode: 0 }).at(-1)).toBe('switched on')
    expect(talk(['self-test passed', 'shutdown', 'enable operation'], { mode: 0 }).at(-1)).toBe('switched on')
  })
  it.each<[DriveCommand, string]>([
    ['disable voltage', 'switch on disabled'],
    ['shutdown', 'ready to switch on'],
    ['switch on', 'switched on'],
  ])('leaves operation by %s', (command, state) => {
    expect(fromOperation([command])).toEqual([state])
  })
  it('quick stop below operation is switch on disabled', () => {
    expect(talk(['self-test passed', 'shutdown', 'quick stop']).at(-1)).toBe('switch on disabled')
  })
})

describe('quick stop by 605Ah', () => {
  it.each([1, 2, 3, 4])('%d: slows, cannot be taken back, ends in switch on disabled', (quickStop) => {
    const motion = quickStop < 3 ? 'ramp' : 'limit'
    expect(
      fromOperation(['quick stop', 'enable operation', 'shutdown', 'standstill', 'enable operation'], {
        quickStop,
      }),
    ).toEqual([
      `quick stop active, ${motion}`,
      `quick stop active, ${motion}`,
      `quick stop active, ${motion}`,
      'switch on disabled',
      'switch on disabled',
    ])
  })
  it.each([5, 6, 7, 8])('%d: slows, then holds, and enable operation takes it back', (quickStop) => {
    const motion = quickStop < 7 ? 'ramp' : 'limit'
    expect(fromOperation(['quick stop', 'standstill', 'enable operation'], { quickStop })).toEqual([
      `quick stop active, ${motion}`,
      'quick stop active, hold',
      'operation enabled, follow',
    ])
  })
  it('0: power off at once', () => {
    expect(fromOperation(['quick stop'], { quickStop: 0 })).toEqual(['switch on disabled'])
  })
  it('disable voltage ends it at once', () => {
    expect(fromOperation(['quick stop', 'disable voltage'])).toEqual([
      'quick stop active, ramp',
      'switch on disabled',
    ])
  })
})

describe('faults by 605Eh', () => {
  it('slows, then stands in fault until the rising edge of bit 7', () => {
    expect(
      fromOperation(['fault', 'enable operation', 'standstill', 'shutdown', 'fault reset', 'shutdown']),
    ).toEqual([
      'fault reaction active, ramp',
      'fault reaction active, ramp',
      'fault',
      'fault',
      'switch on disabled',
      'ready to switch on',
    ])
  })
  it('a bit 7 that was set before the fault resets nothing; its next edge does', () => {
    expect(
      fromOperation(['fault reset', 'fault', 'standstill', 'fault reset', 'disable voltage', 'fault reset']),
    ).toEqual([
      'operation enabled, follow',
      'fault reaction active, ramp',
      'fault',
      'fault',
      'fault',
      'switch on disabled',
    ])
  })
  it.each<[number, string]>([
    [0, 'fault'],
    [1, 'fault reaction active, ramp'],
    [2, 'fault reaction active, ramp'],
    [3, 'fault reaction active, limit'],
    [4, 'fault reaction active, limit'],
  ])('option %d: %s', (faultReaction, answer) => {
    expect(fromOperation(['fault'], { faultReaction })).toEqual([answer])
  })
  it('below operation there is nothing to slow', () => {
    expect(talk(['self-test passed', 'fault']).at(-1)).toBe('fault')
  })
})

describe('loss of link by 6007h', () => {
  it.each<[number, string]>([
    [0, 'operation enabled, follow'],
    [1, 'fault reaction active, ramp'],
    [2, 'switch on disabled'],
    [3, 'quick stop active, ramp'],
  ])('%d: %s', (linkLost, answer) => {
    expect(fromOperation(['link lost'], { linkLost })).toEqual([answer])
  })
})

it('is a pure fold: what changes nothing gives the same object back', () => {
  const states: DriveState[] = ['switch on disabled', 'fault', 'operation enabled']
  for (const state of states) {
    const status: DriveStatus = Object.freeze({ state, motion: 'free', controlword: 0x06 })
    expect(driveStep(status, { kind: 'standstill' }, SETTINGS)).toBe(status)
  }
})
