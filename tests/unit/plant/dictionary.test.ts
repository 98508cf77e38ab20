import { beforeEach, describe, expect, it } from 'vitest'
import {
  AT_ONCE,
  EVERY_SYNC,
  mappingWord,
  OBJECT,
  PDO_INVALID,
  pdoObjects,
} from '../../../src/wire/cia402/objects.js'
import { CONTROLWORD } from '../../../src/wire/cia402/state.js'
import { map, NODE, smallRig, Talk } from './line.js'

const rpdo1 = pdoObjects('receive', 1)
const tpdo1 = pdoObjects('transmit', 1)
let talk: Talk

beforeEach(() => {
  talk = new Talk(smallRig())
  talk.pass(0.01)
  talk.said()
})

describe('SDO server, as a transcript', () => {
  it('answers reads and writes, each some time later', () => {
    expect(talk.read(OBJECT.quickStopOption)).toBe(6)
    expect(talk.write(OBJECT.quickStopOption, 2)).toBe('done')
    expect(talk.read(OBJECT.quickStopOption)).toBe(2)
    expect(talk.said()).toEqual([
      '> 60b 40 5a 60 00 00 00 00 00',
      '< 58b 4b 5a 60 00 06 00 00 00',
      '> 60b 2b 5a 60 00 02 00 00 00',
      '< 58b 60 5a 60 00 00 00 00 00',
      '> 60b 40 5a 60 00 00 00 00 00',
      '< 58b 4b 5a 60 00 02 00 00 00',
    ])
  })

  it('aborts: unknown object, unknown sub-index, read-only, wrong length, out of range, not expedited', () => {
    const strange = { index: 0x2000, sub: 0, bytes: 4, signed: false } as const
    expect(talk.write(strange, 1)).toBe('06020000')
    expect(talk.write({ ...OBJECT.periodValue, sub: 9 }, 1)).toBe('06090011')
    expect(talk.write(OBJECT.actualPosition, 1)).toBe('06010002')
    expect(talk.write({ ...OBJECT.mode, bytes: 2 }, 8)).toBe('06070010')
    expect(talk.write(OBJECT.mode, 3)).toBe('06090030')
    expect(talk.write(OBJECT.quickStopOption, 9)).toBe('06090030')
    talk.said()
    talk.send({
      id: 0x60b,
      extended: false,
      remote: false,
      data: Uint8Array.of(0x21, 0x60, 0x60, 0, 9, 0, 0, 0),
    })
    talk.pass(0.01)
    expect(talk.said()).toEqual(['> 60b 21 60 60 00 09 00 00 00', '< 58b 80 60 60 00 01 00 04 05'])
  })

  it('is silent to another node, to a short frame and to an abort', () => {
    const requests = [
      [0x60c, 0x40, 0x41, 0x60, 0, 0, 0, 0, 0],
      [0x60b, 0x40, 0x41, 0x60],
      [0x60b, 0x80, 0x41, 0x60, 0, 0, 0, 0, 8],
    ]
    for (const [id, ...data] of requests) {
      talk.send({ id: id!, extended: false, remote: false, data: Uint8Array.from(data) })
    }
    talk.pass(0.01)
    expect(talk.said().filter((line) => line.startsWith('<'))).toEqual([])
  })
})

describe('objects', () => {
  it('6061h follows 6060h, 6064h is live, 6076h is in mN m', () => {
    expect(talk.read(OBJECT.modeDisplay)).toBe(0)
    talk.write(OBJECT.mode, 8)
    expect(talk.read(OBJECT.modeDisplay)).toBe(8)
    expect(talk.read(OBJECT.actualPosition)).toBe(1200)
    expect(talk.read(OBJECT.ratedTorque)).toBe(20_000)
  })

  it('has nothing at power-on that a careful host wants', () => {
    const wanted: [keyof typeof OBJECT, number][] = [
      ['producerHeartbeat', 50],
      ['consumerHeartbeat', 0x7f0064],
      ['errorBehaviour', 0],
      ['abortConnection', 3],
      ['quickStopOption', 2],
      ['faultReactionOption', 2],
      ['mode', 8],
      ['followingWindow', 3641],
      ['followingTimeout', 100],
      ['maxTorque', 900],
      ['quickStopDeceleration', 546133],
      ['periodValue', 5],
    ]
    for (const [name, value] of wanted) expect(talk.read(OBJECT[name]), name).not.toBe(value)
    expect(talk.read(OBJECT.followingWindow)).toBe(0xffffffff)
    for (const n of [1, 2]) {
      expect(talk.read(pdoObjects('receive', n).map(1))).not.toBe(
        mappingWord(n === 1 ? OBJECT.targetPosition : OBJECT.controlword),
      )
    }
    expect(talk.read(tpdo1.type)).not.toBe(EVERY_SYNC)
    expect(talk.read(tpdo1.count)).not.toBe(3)
  })

  it('the mode cannot be left while operation is enabled', () => {
    talk.enable()
    expect(talk.write(OBJECT.mode, 0)).toBe('08000022')
    expect(talk.write(OBJECT.mode, 8)).toBe('done')
  })
})

describe('rules of PDO mapping (CiA 301)', () => {
  it('as long as the PDO is valid, neither number nor list may be changed', () => {
    expect(talk.read(rpdo1.cobId)).toBe(0x200 + NODE)
    expect(talk.write(rpdo1.count, 0)).toBe('08000022')
    expect(talk.write(rpdo1.map(1), mappingWord(OBJECT.targetPosition))).toBe('08000022')
    expect(talk.write(rpdo1.cobId, 0x205)).toBe('08000022')
    expect(talk.read(rpdo1.map(1))).toBe(mappingWord(OBJECT.controlword))
  })

  it('as long as the number is not 0, the list may not be changed', () => {
    expect(talk.write(rpdo1.cobId, PDO_INVALID + 0x20b)).toBe('done')
    expect(talk.write(rpdo1.map(1), mappingWord(OBJECT.targetPosition))).toBe('08000022')
    expect(talk.write(rpdo1.count, 0)).toBe('done')
    expect(talk.write(rpdo1.map(1), mappingWord(OBJECT.targetPosition))).toBe('done')
    expect(talk.write(rpdo1.count, 1)).toBe('done')
    expect(talk.write(rpdo1.cobId, 0x20b)).toBe('done')
  })

  it('only what exists, in its direction and length, and no more than 8 bytes', () => {
    talk.write(rpdo1.cobId, PDO_INVALID + 0x20b)
    talk.write(rpdo1.count, 0)
    const one = rpdo1.map(1)
    expect(talk.write(one, 0x20000020)).toBe('06020000')
    expect(talk.write(one, mappingWord(OBJECT.actualPosition))).toBe('06040041')
    expect(talk.write(one, mappingWord(OBJECT.quickStopOption))).toBe('06040041')
    expect(talk.write(one, mappingWord({ ...OBJECT.targetPosition, bytes: 2 }))).toBe('06040041')
    for (const i of [1, 2, 3])
      expect(talk.write(rpdo1.map(i), mappingWord(OBJECT.targetPosition))).toBe('done')
    expect(talk.write(rpdo1.count, 3)).toBe('06040042')
    expect(talk.write(rpdo1.count, 4)).toBe('06040041')
    expect(talk.write(rpdo1.count, 9)).toBe('06090030')
    expect(talk.write(rpdo1.count, 2)).toBe('done')
  })

  it('identifiers of other services, 29 bits and unknown transmission types are refused', () => {
    for (const id of [0, 0x7f, 0x80, 0x17f, 0x58b, 0x60b, 0x70b, 0x2000020b]) {
      expect(talk.write(rpdo1.cobId, PDO_INVALID + 0x20b)).toBe('done')
      expect(talk.write(rpdo1.cobId, id), id.toString(16)).toBe('06090030')
    }
    for (const type of [0, 241, 252]) expect(talk.write(rpdo1.type, type)).toBe('06090030')
    for (const type of [1, 240, 254, 255]) expect(talk.write(rpdo1.type, type)).toBe('done')
  })
})

describe('what is mapped is what is processed', () => {
  it('an unmapped controlword does nothing', () => {
    talk.setUp()
    for (const [object, value] of map('receive', 2, 0x30b, AT_ONCE, []))
      expect(talk.write(object, value)).toBe('done')
    talk.nmt('start')
    talk.control('shutdown')
    expect(talk.state()).toBe('switch on disabled')
    expect(talk.write(OBJECT.controlword, CONTROLWORD.shutdown)).toBe('done')
    expect(talk.state()).toBe('ready to switch on')
  })

  it('an identifier of its own or shared: the drive hears the one that was written', () => {
    talk.setUp([
      [pdoObjects('receive', 2).cobId, PDO_INVALID + 0x181],
      [pdoObjects('receive', 2).cobId, 0x181],
    ])
    talk.nmt('start')
    talk.control('shutdown')
    expect(talk.state()).toBe('switch on disabled')
    talk.send({ id: 0x181, extended: false, remote: false, data: Uint8Array.of(6, 0) })
    expect(talk.state()).toBe('ready to switch on')
  })

  it('a controlword mapped to SYNC waits for it', () => {
    talk.setUp([[pdoObjects('receive', 2).type, EVERY_SYNC]])
    talk.nmt('start')
    talk.control('shutdown')
    expect(talk.state()).toBe('switch on disabled')
    talk.sync()
    expect(talk.state()).toBe('ready to switch on')
  })

  it('feedback carries the objects in the order of the list', () => {
    talk.setUp(map('transmit', 1, 0x18b, EVERY_SYNC, [OBJECT.modeDisplay, OBJECT.actualPosition]))
    talk.nmt('start')
    talk.pass(0.01)
    talk.said()
    talk.sync()
    talk.pass(0.01)
    expect(talk.said()).toEqual(['> 080', '< 18b 08 b0 04 00 00'])
  })

  it('a frame shorter than its mapping is not processed, and told by an emergency', () => {
    talk.setUp()
    talk.nmt('start')
    talk.said()
    talk.send({ id: 0x30b, extended: false, remote: false, data: Uint8Array.of(6) })
    expect(talk.said()).toEqual(['> 30b 06', '< 08b 10 82 11 00 00 00 00 00'])
    expect(talk.state()).toBe('switch on disabled')
  })
})
