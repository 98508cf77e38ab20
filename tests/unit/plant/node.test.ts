import { describe, expect, it } from 'vitest'
import { OBJECT } from '../../../src/wire/cia402/objects.js'
import { smallRig, Talk } from './line.js'

const booted = (rig = smallRig()) => {
  const talk = new Talk(rig)
  talk.pass(0.01)
  return talk
}

describe('NMT', () => {
  it('each node boots by itself, in pre-operational, and hears nothing before', () => {
    const talk = new Talk(smallRig({}, { count: 3 }))
    talk.nmt('start')
    talk.pass(0.01)
    expect(talk.said()).toEqual(['> 000 01 00', '< 70b 00', '< 70c 00', '< 70d 00'])
    const times = talk.heard.map(({ t }) => t)
    expect(new Set(times).size).toBe(3)
    expect(talk.state()).toBe('switch on disabled')
  })

  it('sends no PDO and obeys none in pre-operational', () => {
    const talk = booted()
    talk.setUp()
    talk.said()
    talk.control('shutdown')
    talk.idle(3)
    expect(talk.said()).toEqual(['> 30b 06 00', '> 080', '> 080', '> 080'])
    expect(talk.state()).toBe('switch on disabled')
  })

  it('operational: one feedback for each SYNC; back in pre-operational: none', () => {
    const talk = booted()
    talk.setUp()
    talk.nmt('start')
    talk.said()
    talk.idle(2)
    expect(talk.said()).toEqual([
      '> 080',
      '< 18b 50 02 b0 04 00 00 00 00',
      '> 080',
      '< 18b 50 02 b0 04 00 00 00 00',
    ])
    talk.sync()
    talk.nmt('pre-operational')
    talk.idle(2)
    expect(talk.said()).toEqual(['> 080', '> 000 80 00', '> 080', '> 080'])
  })

  it('every n-th SYNC by its transmission type', () => {
    const talk = booted()
    talk.setUp()
    talk.write({ index: 0x1800, sub: 2, bytes: 1, signed: false }, 3)
    talk.nmt('start')
    talk.idle(10)
    expect(talk.feedback()).toHaveLength(3)
  })

  it('an event-driven PDO goes out when the statusword changes', () => {
    const talk = booted()
    talk.setUp()
    talk.write({ index: 0x1800, sub: 2, bytes: 1, signed: false }, 255)
    talk.nmt('start')
    talk.pass(0.01)
    talk.idle(3)
    const before = talk.feedback().length
    talk.control('shutdown')
    talk.control('shutdown')
    talk.pass(0.01)
    expect(
      talk
        .feedback()
        .slice(before)
        .map(({ word }) => word),
    ).toEqual([0x231])
  })

  it('stopped: neither SDO nor PDO, but heartbeat', () => {
    const talk = booted()
    talk.setUp([[OBJECT.producerHeartbeat, 50]])
    talk.nmt('stop')
    talk.said()
    expect(talk.write(OBJECT.mode, 8)).toBe('no answer')
    talk.sync()
    talk.pass(0.05)
    expect(talk.said().slice(2)).toEqual(['< 70b 04'])
  })

  it('commands to another node do not concern it', () => {
    const talk = booted(smallRig({}, { count: 2 }))
    talk.setUp([[OBJECT.producerHeartbeat, 50]])
    talk.nmt('start', 12)
    talk.said()
    talk.pass(0.06)
    // The other one is operational and tells its statusword; this one's heartbeat still says pre-operational.
    expect(talk.said()).toEqual(['< 18c 50 02', '< 70b 7f'])
  })

  it('reset communication forgets the set-up of 1000h to 1FFFh and boots again; reset node forgets everything', () => {
    const talk = booted()
    talk.setUp()
    talk.nmt('reset communication')
    talk.said()
    talk.pass(0.01)
    expect(talk.said()).toEqual(['< 70b 00'])
    expect(talk.read({ index: 0x1800, sub: 2, bytes: 1, signed: false })).toBe(255)
    expect(talk.read(OBJECT.mode)).toBe(8)
    talk.nmt('reset node')
    talk.pass(0.01)
    expect(talk.read(OBJECT.mode)).toBe(0)
    talk.enable()
    expect(talk.state()).toBe('operation enabled')
  })
})

it('reset node takes the power away from an enabled drive', () => {
  const talk = new Talk(smallRig({ brakes: false, truth: { start: 0.5 } }))
  talk.enable()
  talk.cycle(talk.measured(), 10)
  const stood = talk.witness()
  talk.nmt('reset node')
  talk.pass(0.5)
  expect(talk.state()).toBe('switch on disabled')
  expect(talk.witness()).toBeLessThan(stood - 0.05)
})

describe('heartbeat', () => {
  it('comes at the period that was written, in the state of now, and ceases with 0', () => {
    const talk = booted()
    talk.write(OBJECT.producerHeartbeat, 50)
    talk.said()
    const from = talk.heard.length
    talk.pass(0.11)
    talk.nmt('start')
    talk.pass(0.05)
    expect(talk.said()).toEqual(['< 70b 7f', '< 70b 7f', '> 000 01 00', '< 18b 50 02', '< 70b 05'])
    const beats = talk.heard.slice(from).filter(({ frame }) => frame.id === 0x70b)
    expect(beats[1]!.t - beats[0]!.t).toBeCloseTo(0.05, 9)
    talk.write(OBJECT.producerHeartbeat, 0)
    talk.said()
    talk.pass(1)
    expect(talk.said()).toEqual([])
  })
})
