/**
 * CANopen (CiA 301) and the drive profile (CiA 402 / IEC 61800-7-201): values read in open CANopen stacks, as the
 * project's check table has them; those marked "from memory" were not.
 */
import { describe, expect, it } from 'vitest'
import {
  consumerHeartbeat,
  emergencyFrame,
  heartbeatFrame,
  nmtCommand,
  nmtFrame,
  nodeState,
  nodeStateCode,
  readConsumerHeartbeat,
  readEmergency,
  SYNC_FRAME,
} from '../../src/wire/cia402/network.js'
import { COB, OBJECT } from '../../src/wire/cia402/objects.js'
import {
  CONTROLWORD,
  driveCommand,
  driveState,
  FOLLOWING_ERROR_BIT,
  FOLLOWS_BIT,
  statusBits,
} from '../../src/wire/cia402/state.js'
import type { DriveCommand, DriveState } from '../../src/wire/observation.js'

// [state, mask, value, example word of that state]
const STATUS: [DriveState, number, number, number | undefined][] = [
  ['not ready to switch on', 0x4f, 0x00, undefined],
  ['switch on disabled', 0x4f, 0x40, 0x0250],
  ['ready to switch on', 0x6f, 0x21, 0x0631],
  ['switched on', 0x6f, 0x23, 0x0633],
  ['operation enabled', 0x6f, 0x27, 0x0637],
  ['quick stop active', 0x6f, 0x07, 0x0617],
  ['fault reaction active', 0x4f, 0x0f, 0x021f],
  ['fault', 0x4f, 0x08, 0x0218],
]

// [command, mask, value]; the mask of "switch on" from memory.
const CONTROL: [DriveCommand, number, number][] = [
  ['shutdown', 0x87, 0x06],
  ['switch on', 0x8f, 0x07],
  ['enable operation', 0x8f, 0x0f],
  ['disable voltage', 0x82, 0x00],
  ['quick stop', 0x86, 0x02],
]

describe('statusword 6041h', () => {
  it.each(STATUS)('%s', (state, mask, value, example) => {
    if (example !== undefined) expect(driveState(example)).toBe(state)
    expect(statusBits(state) & mask).toBe(value)
    for (let word = 0; word <= 0xffff; word++) {
      // One expect a word would take long; a wrong word is named all the same.
      if ((driveState(word) === state) !== ((word & mask) === value)) expect.fail(`word ${word.toString(16)}`)
    }
  })

  it('bit 12: the drive follows; bit 13: following error (from memory)', () => {
    expect(FOLLOWS_BIT).toBe(0x1000)
    expect(FOLLOWING_ERROR_BIT).toBe(0x2000)
  })
})

describe('controlword 6040h', () => {
  it.each(CONTROL)('%s', (command, mask, value) => {
    expect(CONTROLWORD[command] & mask).toBe(value)
    for (let word = 0; word <= 0xffff; word++) {
      if ((driveCommand(word) === command) !== ((word & mask) === value))
        expect.fail(`word ${word.toString(16)}`)
    }
  })

  it('fault reset is bit 7, and nothing else is sent with it', () => {
    expect(CONTROLWORD['fault reset']).toBe(0x80)
    for (let word = 0; word <= 0xffff; word++) {
      if ((driveCommand(word) === 'fault reset') !== ((word & 0x80) !== 0))
        expect.fail(`word ${word.toString(16)}`)
    }
  })
})

describe('network', () => {
  it('COB-IDs of the predefined connection set', () => {
    expect(COB).toEqual({
      nmt: 0x000,
      sync: 0x080,
      emergency: 0x080,
      feedback: 0x180, // TPDO1
      reports: 0x280, // TPDO2
      setpoint: 0x200, // RPDO1
      controlword: 0x300, // RPDO2
      sdoReply: 0x580,
      sdoRequest: 0x600,
      heartbeat: 0x700,
    })
    expect(SYNC_FRAME).toMatchObject({ id: 0x080, data: new Uint8Array(0) })
    expect(nmtFrame('start', 0).id).toBe(0)
    expect(emergencyFrame(5, 0, 0).id).toBe(0x085)
    expect(heartbeatFrame(5, 'operational').id).toBe(0x705)
  })

  it.each([
    ['start', 1],
    ['stop', 2],
    ['pre-operational', 128],
    ['reset node', 129],
    ['reset communication', 130],
  ] as const)('NMT %s is %i', (command, byte) => {
    expect(nmtFrame(command, 12).data).toEqual(Uint8Array.of(byte, 12))
    expect(nmtCommand(byte)).toBe(command)
  })

  it.each([
    ['boot-up', 0],
    ['stopped', 4],
    ['operational', 5],
    ['pre-operational', 127],
  ] as const)('node state %s is %i', (state, byte) => {
    expect(heartbeatFrame(3, state).data).toEqual(Uint8Array.of(byte))
    expect(nodeState(byte)).toBe(state)
    expect(nodeState(byte | 0x80)).toBe(state)
  })

  it('heartbeat byte CBh is state 75, bit 7 masked', () => {
    expect(nodeStateCode(0xcb)).toBe(75)
    expect(nodeState(0xcb)).toBe('unknown')
  })

  it('heartbeat consumer 1016h: 000501F4h is node 5, 500 ms', () => {
    expect(readConsumerHeartbeat(0x000501f4)).toEqual({ node: 5, ms: 500 })
    expect(consumerHeartbeat(5, 500)).toBe(0x000501f4)
    expect(readConsumerHeartbeat(consumerHeartbeat(127, 65_535))).toEqual({ node: 127, ms: 65_535 })
  })

  it.each([
    ['01 20 02 00 01 02 03 04', 0x2001, 2, [0, 1, 2, 3, 4]],
    ['10 90 01 04 03 02 01 00', 0x9010, 1, [4, 3, 2, 1, 0]],
  ])('emergency 081h %s', (text, code, register, maker) => {
    const data = Uint8Array.from(text.split(' '), (b) => Number.parseInt(b, 16))
    expect(readEmergency(data)).toEqual({ code, register, maker: Uint8Array.from(maker) })
    const made = emergencyFrame(1, code, register)
    expect(made.id).toBe(0x081)
    expect(made.data.subarray(0, 3)).toEqual(data.subarray(0, 3))
  })
})

describe('objects of the drive profile', () => {
  it.each([
    [OBJECT.quickStopOption, 0x605a],
    [OBJECT.followingWindow, 0x6065],
    [OBJECT.followingTimeout, 0x6066],
    [OBJECT.consumerHeartbeat, 0x1016],
    [OBJECT.controlword, 0x6040],
    [OBJECT.statusword, 0x6041],
  ])('%o', (object, index) => expect(object.index).toBe(index))

  it('the window 6065h has room for FFFFFFFFh, which turns it off', () => {
    expect(OBJECT.followingWindow).toMatchObject({ bytes: 4, signed: false })
  })
})
