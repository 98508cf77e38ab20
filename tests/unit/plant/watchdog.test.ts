import { describe, expect, it } from 'vitest'
import { LinkWatchdog } from '../../../src/plant/watchdog.js'
import { OBJECT } from '../../../src/wire/cia402/objects.js'
import { smallRig, Talk } from './line.js'

const enabled = (overrides: Parameters<Talk['enable']>[0] = [], watchdog = true) => {
  const talk = new Talk(smallRig({ watchdog }))
  talk.enable(overrides)
  expect(talk.state()).toBe('operation enabled')
  return talk
}

describe('as a fold', () => {
  it('monitors the heartbeat from the first one on, answers once, and begins anew with the next', () => {
    const dog = new LinkWatchdog()
    dog.consume(100)
    expect(dog.due).toBe(Number.POSITIVE_INFINITY)
    dog.heartbeat(1000)
    expect(dog.due).toBe(1100)
    expect(dog.expire(1099)).toBeUndefined()
    expect(dog.expire(1100)).toBe('heartbeat')
    expect(dog.expire(9999)).toBeUndefined()
    dog.heartbeat(2000)
    expect(dog.due).toBe(2100)
  })

  it('watches SYNC and setpoints only while operation is enabled', () => {
    const dog = new LinkWatchdog()
    expect(dog.sync(0, false)).toBeUndefined()
    dog.enabled(0, 10)
    expect(dog.due).toBe(50)
    dog.sync(40, true)
    expect(dog.expire(89)).toBeUndefined()
    expect(dog.expire(90)).toBe('SYNC')
    expect([100, 110, 120, 130, 140, 150].map((t) => dog.sync(t, false))).toEqual([
      undefined,
      undefined,
      undefined,
      undefined,
      'setpoints',
      undefined,
    ])
    dog.left()
    expect(dog.due).toBe(Number.POSITIVE_INFINITY)
  })
})

describe('the drive stops by itself', () => {
  it('when the heartbeat ceases: emergency, quick stop, node in pre-operational', () => {
    const talk = enabled()
    talk.hush()
    const silent = talk.now
    const at = () => talk.heard.find(({ frame }) => frame.id === 0x8b)
    while (at() === undefined && talk.now < silent + 1) talk.cycle(0)
    expect(talk.emergencies()).toEqual(['8130'])
    expect(at()!.t - silent).toBeGreaterThan(0.08)
    expect(at()!.t - silent).toBeLessThanOrEqual(0.1)
    const before = talk.feedback().length
    talk.cycle(0, 4)
    expect(talk.feedback()).toHaveLength(before)
    expect(talk.state()).toBe('switch on disabled')
  })

  it('when SYNC ceases, although setpoints go on, and although no heartbeat is watched', () => {
    const talk = enabled([[OBJECT.consumerHeartbeat, 0]])
    const last = talk.now
    for (let i = 0; i < 10; i++) {
      talk.setpoint(0)
      talk.pass(0.005)
    }
    expect(talk.emergencies()).toEqual(['8700'])
    const lost = talk.heard.find(({ frame }) => frame.id === 0x8b)!
    expect(lost.t - last).toBeLessThanOrEqual(0.025)
    expect(talk.state()).toBe('switch on disabled')
  })

  it('when setpoints cease, although SYNC and heartbeat go on', () => {
    const talk = enabled()
    talk.cycle(0)
    talk.idle(4)
    expect(talk.emergencies()).toEqual([])
    talk.idle(1)
    expect(talk.emergencies()).toEqual(['8250'])
    talk.idle(2)
    expect(talk.state()).toBe('switch on disabled')
    talk.control('enable operation')
    talk.cycle(0, 5)
    expect(talk.state()).toBe('switch on disabled')
  })

  it('a target written by SDO is no setpoint', () => {
    const talk = enabled()
    for (let i = 0; i < 6; i++) {
      talk.write(OBJECT.targetPosition, 1200)
      talk.idle(1)
    }
    expect(talk.emergencies()).toEqual(['8250'])
  })

  it('but not while they come, and four SYNCs without a setpoint are forgiven', () => {
    const talk = enabled()
    for (let i = 0; i < 20; i++) {
      talk.idle(4)
      talk.cycle(0)
    }
    expect(talk.emergencies()).toEqual([])
    expect(talk.state()).toBe('operation enabled')
  })

  it.each<[number, string]>([
    [0, 'operation enabled'],
    [1, 'fault'],
    [2, 'switch on disabled'],
    [3, 'switch on disabled'],
  ])('as 6007h = %d says: %s', (option, state) => {
    const talk = enabled([[OBJECT.abortConnection, option]])
    talk.idle(8)
    expect(talk.emergencies()).toEqual(['8250'])
    expect(talk.state()).toBe(state)
  })

  it.each<[number, string]>([
    [0, '< 70b 7f'],
    [1, '< 70b 05'],
    [2, '< 70b 04'],
  ])('its node as 1029h = %d says', (behaviour, beat) => {
    const talk = enabled([
      [OBJECT.errorBehaviour, behaviour],
      [OBJECT.producerHeartbeat, 50],
    ])
    talk.hush()
    talk.cycle(0, 40)
    expect(talk.said().findLast((line) => line.startsWith('< 70b'))).toBe(beat)
  })

  it('the rig may say that it does not', () => {
    const talk = enabled([], false)
    talk.hush()
    talk.pass(1)
    talk.idle(20)
    expect(talk.emergencies()).toEqual([])
    expect(talk.state()).toBe('operation enabled')
  })
})
