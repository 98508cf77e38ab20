import { describe, expect, it } from 'vitest'
import { MockBus } from '../../../src/bus/mock.js'
import { ABILITY } from '../../../src/plant/joint.js'
import { OBJECT } from '../../../src/wire/cia402/objects.js'
import { FOLLOWS_BIT } from '../../../src/wire/cia402/state.js'
import { COUNTS, DEG, NODE, smallRig, Talk } from './line.js'

describe('enabling', () => {
  it('as a transcript: words out, states in; bit 12 only after SYNC has brought a setpoint', () => {
    const talk = new Talk(smallRig())
    talk.pass(0.01)
    talk.setUp()
    talk.beat()
    talk.nmt('start')
    talk.said()
    for (const command of ['shutdown', 'switch on', 'enable operation'] as const) {
      talk.control(command)
      talk.idle(1)
    }
    talk.cycle(0)
    const position = 'b0 04 00 00'
    expect(talk.said().filter((line) => !line.startsWith('< 77f'))).toEqual([
      '> 30b 06 00',
      '> 080',
      `< 18b 31 02 ${position} 00 00`,
      '> 30b 07 00',
      '> 080',
      `< 18b 33 02 ${position} 00 00`,
      '> 30b 0f 00',
      '> 080',
      // Enabled, not following; the motor carries the sag: 0.57 N m are 29 thousandths of 20 N m.
      `< 18b 37 02 ${position} 1d 00`,
      '> 20b b0 04 00 00',
      '> 080',
      `< 18b 37 12 ${position} 1d 00`,
    ])
  })

  it('is refused while the mode is not cyclic synchronous position', () => {
    const talk = new Talk(smallRig())
    talk.enable([[OBJECT.mode, 0]])
    expect(talk.state()).toBe('switched on')
  })

  it('does not move a joint that stands away from zero', () => {
    const talk = new Talk(smallRig({ truth: { start: 0.7 } }))
    talk.enable()
    talk.cycle(talk.measured(), 100)
    expect(Math.abs(talk.witness() - 0.7)).toBeLessThan(1 / COUNTS)
  })

  it('jumps to an old 607Ah: what a careless host sees', () => {
    const talk = new Talk(smallRig({ truth: { start: 0.7 } }))
    talk.pass(0.01)
    talk.setUp([[OBJECT.followingWindow, 0xffffffff]])
    talk.write(OBJECT.targetPosition, 1200)
    talk.nmt('start')
    for (const command of ['shutdown', 'switch on', 'enable operation'] as const) talk.control(command)
    talk.idle(4)
    expect(talk.witness()).toBeLessThan(0.695)
  })

  it('late, while the joint falls: it is caught where it is, without a jump', () => {
    const talk = new Talk(smallRig({ brakes: false, truth: { start: 0.7 } }))
    talk.pass(0.01)
    talk.setUp()
    talk.beat()
    talk.nmt('start')
    talk.write(OBJECT.targetPosition, talk.read(OBJECT.actualPosition))
    talk.idle(1)
    const follow = () => talk.cycle(talk.measured())
    for (let i = 0; i < 100; i++) follow()
    const speed = (talk.witness() - 0.7) / talk.now
    expect(speed).toBeLessThan(-0.1)
    talk.control('shutdown')
    follow()
    talk.control('switch on')
    follow()
    const caught = talk.witness()
    talk.control('enable operation')
    const target = talk.measured()
    let [least, most] = [caught, caught]
    for (let i = 0; i < 100; i++) {
      talk.cycle(target)
      least = Math.min(least, talk.witness())
      most = Math.max(most, talk.witness())
    }
    expect(talk.feedback().at(-1)!.word & FOLLOWS_BIT).not.toBe(0)
    // At sag / damping = 0.5 rad/s a joint runs on for less than v / (w z) = 8 mrad, and returns by what it
    // fell in two periods.
    expect(caught - least).toBeLessThan(0.008)
    expect(most - caught).toBeLessThan(0.5 * 0.01)
  })
})

describe('motion', () => {
  it('acts at the SYNC after the setpoint, along a straight line over the interpolation period', () => {
    const able = { limits: { speed: 100, acceleration: 1e5 } }
    const talk = new Talk(smallRig({ servo: { frequency: 200, damping: 1, feedforward: 1 } }, able))
    talk.enable()
    talk.cycle(0, 20)
    talk.setpoint(0.004)
    talk.pass(0.02)
    expect(talk.witness()).toBeCloseTo(0, 4)
    talk.sync()
    const path = Array.from({ length: 4 }, () => {
      talk.pass(0.0025)
      return talk.witness()
    })
    // A loop of 200 Hz without lag is close behind on the line, and at rest some milliseconds after its end.
    expect(Math.abs(path[0]! - 0.002)).toBeLessThan(0.0004)
    expect(Math.abs(path[2]! - 0.004)).toBeLessThan(0.0001)
    expect(Math.abs(path[3]! - 0.004)).toBeLessThan(0.5 / COUNTS)
  })

  it('follows a swing with the lag of its loop', () => {
    const talk = new Talk(smallRig())
    talk.enable([[OBJECT.maxTorque, 3000]])
    const w = 4
    const swing = (t: number) => 0.3 * (1 - Math.cos(w * t))
    const begin = talk.now
    let worst = 0
    for (let i = 0; i < 400; i++) {
      talk.cycle((t) => swing(t - begin))
      // Setpoint k was said one period ago, acts at this SYNC's end: the demand is two periods old, the loop
      // 10.6 ms behind.
      const lag = 0.005 + 0.005 + (2 * 0.8 * 0.5) / (2 * Math.PI * 12)
      if (i > 20) worst = Math.max(worst, Math.abs(talk.witness() - swing(talk.now - begin - lag)))
    }
    expect(worst).toBeLessThan(0.3 * w * 0.002)
    expect(worst).toBeGreaterThan(0)
  })

  it.each([40, 90, 180])('quick stop from %d deg/s comes to rest in speed / deceleration', (degrees) => {
    const speed = degrees * DEG
    const deceleration = 600 * DEG
    const talk = new Talk(smallRig({ servo: { frequency: 12, damping: 0.8, feedforward: 1 } }))
    talk.enable([[OBJECT.quickStopDeceleration, Math.round(deceleration * COUNTS)]])
    const begin = talk.now
    // Ramps up first: the joint's acceleration is limited.
    const run = (t: number) => (t < 0.2 ? (speed * t * t) / 0.4 : speed * (t - 0.1))
    talk.cycle((t) => run(t - begin), 100)
    const from = talk.witness()
    const t0 = talk.now
    talk.control('quick stop')
    talk.control('enable operation')
    let rest = 0
    let last = from
    while (rest === 0 && talk.now < t0 + 2) {
      talk.pass(0.001)
      const x = talk.witness()
      if (x === last) rest = talk.now - t0
      last = x
    }
    const time = speed / deceleration
    // Begins within one grid step, ends within one, and rest is seen one step later.
    expect(rest).toBeGreaterThan(time - 0.002)
    expect(rest).toBeLessThan(time + 0.004)
    expect(last - from).toBeGreaterThan((speed * time) / 2 - 0.001 * speed)
    expect(last - from).toBeLessThan((speed * time) / 2 + 0.002 * speed)
    talk.pass(0.01)
    expect(talk.state()).toBe('switch on disabled')
  })

  it('brakes hold after a stop; without them the joint sags', () => {
    const sag = (brakes: boolean) => {
      const talk = new Talk(smallRig({ brakes }))
      talk.enable()
      talk.control('quick stop')
      talk.pass(0.01)
      const stood = talk.witness()
      talk.pass(2)
      return stood - talk.witness()
    }
    expect(sag(true)).toBeGreaterThan(0)
    expect(sag(true)).toBeLessThan(1 * DEG)
    expect(sag(false)).toBeGreaterThan(30 * DEG)
  })

  it('cannot do more than it is able to', () => {
    const talk = new Talk(smallRig())
    talk.enable([[OBJECT.followingWindow, 0xffffffff]])
    let fastest = 0
    let last = talk.witness()
    for (let i = 0; i < 100; i++) {
      talk.cycle(2)
      fastest = Math.max(fastest, (talk.witness() - last) / 0.005)
      last = talk.witness()
    }
    expect(fastest).toBeCloseTo(ABILITY.speed * Math.PI, 6)
  })
})

describe('truth', () => {
  it('a binding with the wrong sign: counts look right, the arm goes the other way', () => {
    const talk = new Talk(smallRig({ truth: { sign: -1 } }))
    talk.enable()
    talk.cycle(0.2, 200)
    expect(talk.measured()).toBeCloseTo(0.2, 3)
    expect(talk.witness()).toBeCloseTo(-0.2, 3)
  })

  it('a binding with the wrong zero: the arm stands beside', () => {
    const talk = new Talk(smallRig({ truth: { zero: 1200 + 1000 } }))
    talk.enable()
    talk.cycle(0.2, 200)
    expect(talk.measured()).toBeCloseTo(0.2, 3)
    expect(talk.witness()).toBeCloseTo(0.2 - 1000 / COUNTS, 3)
  })

  it('the encoder wraps into 32 bits', () => {
    const talk = new Talk(smallRig({ truth: { zero: 2 ** 31 + 5 } }))
    talk.pass(0.01)
    expect(talk.read(OBJECT.actualPosition)).toBe(-(2 ** 31) + 5)
  })

  it('noise has the stated deviation', () => {
    const talk = new Talk(smallRig({ feedback: { delay: 1e-4, jitter: 0, noise: 4 } }))
    talk.pass(0.01)
    talk.setUp()
    talk.nmt('start')
    talk.idle(2000)
    const counts = talk.feedback().map((f) => f.counts - 1200)
    const mean = counts.reduce((sum, c) => sum + c, 0) / counts.length
    const deviation = Math.sqrt(counts.reduce((sum, c) => sum + (c - mean) ** 2, 0) / counts.length)
    // Four standard errors; rounding adds 1/12 to the variance.
    expect(Math.abs(mean)).toBeLessThan((4 * 4) / Math.sqrt(2000))
    expect(Math.abs(deviation - Math.sqrt(16 + 1 / 12))).toBeLessThan((4 * 4) / Math.sqrt(2 * 2000))
  })

  it('the same seed gives the same bytes, another seed others', () => {
    const bytes = (seed: number) => {
      const talk = new Talk(
        smallRig({ feedback: { delay: 1e-4, jitter: 5e-5, noise: 2 } }, { count: 3 }),
        seed,
      )
      talk.enable()
      talk.cycle((t) => 0.2 * Math.sin(t), 100)
      return talk.heard.map(({ t, frame }) => `${t} ${frame.id} ${frame.data}`)
    }
    expect(bytes(3)).toEqual(bytes(3))
    expect(bytes(3)).not.toEqual(bytes(4))
  })
})

it('works on the mock bus too', () => {
  const talk = new Talk(smallRig({}, { count: 2 }), 1, (time) => {
    const bus = new MockBus(time, { name: 'port-can', bitrate: 1e6 })
    return (name) => bus.attach(name, name === 'host' ? {} : { order: 'by identifier' })
  })
  talk.enable()
  talk.cycle(0.2, 200)
  expect(talk.state()).toBe('operation enabled')
  expect(talk.witness(0)).toBeCloseTo(0.2, 3)
  expect(talk.witness(1)).toBe(0)
  // SYNC itself takes 51 us at least, then the delay with its jitter, then the feedback frame.
  const sync = talk.heard
    .filter(({ frame }) => frame.id === 0x180 + NODE)
    .map(({ t }) => (t + 0.0005) % 0.005)
  expect(Math.min(...sync.slice(10))).toBeGreaterThan(0)
})
