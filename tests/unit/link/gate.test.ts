import { describe, expect, it } from 'vitest'
import type { Rig } from '../../../src/files/rig.js'
import { Gate } from '../../../src/link/gate.js'

// One joint is enough: the gate looks at each by itself.
const rig = {
  control: { rate: 200, period: 0.005 },
  motion: { speedCap: 1 },
  link: { staleAfter: 0.02, window: 0.2 },
  joints: [{ limits: { lower: -1, upper: 1, speed: 2, acceleration: 50, torque: 1 } }],
} as unknown as Rig

function gateAt(position: number): Gate {
  const gate = new Gate(rig)
  gate.rest(0, position)
  return gate
}

describe('last gate', () => {
  it('lets through a setpoint inside every limit and holds the next against it', () => {
    const gate = gateAt(0)
    expect(gate.check(0, 0.001, 0.001, 0)).toBeNull()
    gate.accept(0, 0.001)
    expect(gate.held(0)).toBe(0.001)
    expect(gate.check(0, 0.003, 0.001, 0)).toBeNull()
  })

  it('holds every joint to the speed cap of the rig', () => {
    const capped = new Gate({ ...rig, motion: { ...rig.motion, speedCap: 0.5 } })
    capped.rest(0, 0)
    for (const setpoint of [0.001, 0.003, 0.006, 0.01, 0.0151]) {
      const breach = capped.check(0, setpoint, 0.001, setpoint)
      if (setpoint <= 0.01) expect(breach).toBeNull()
      else expect(breach).toMatchObject({ quantity: 'setpoint speed', limit: 1 })
      capped.accept(0, setpoint)
    }
  })

  it.each([
    ['setpoint is no finite number', 0, Number.NaN, 0, 0],
    ['setpoint is no finite number', 0, Number.POSITIVE_INFINITY, 0, 0],
    ['age of the feedback', 0, 0, 0.021, 0],
    ['age of the feedback', 0, 0, Number.POSITIVE_INFINITY, 0],
    ['age of the feedback', 0, 0, Number.NaN, 0],
    ['setpoint position', 1, 1.0001, 0, 1],
    ['setpoint position', -1, -1.0001, 0, -1],
    ['setpoint speed', 0, 0.0101, 0, 0],
    ['setpoint acceleration', 0, 0.0013, 0, 0],
    ['setpoint away from the joint', 0.3, 0.3, 0, 0],
  ])('holds back: %s', (quantity, from, setpoint, age, measured) => {
    const breach = gateAt(from).check(0, setpoint, age, measured)
    expect(breach).toMatchObject({ joint: 0, quantity })
  })

  it('passes a limit that is met exactly, whatever rounding does to the differences', () => {
    const gate = gateAt(0.1)
    // 50 rad/s2 for one period of 5 ms is a step of 1.25 mrad.
    expect(gate.check(0, 0.1 + 0.00125, 0.001, 0.1)).toBeNull()
  })

  it('takes the way that setpoints make until they are reached for no distance from the joint', () => {
    const gate = gateAt(0)
    for (let v = 0.25, x = 0.00125; v < 2; v += 0.25) {
      gate.accept(0, x)
      x += (v + 0.25) * 0.005
    }
    // 2 rad/s, measured 5 ms ago and reached 10 ms from now: 30 mrad on top of the window of 200 mrad.
    const next = gate.held(0) + 0.01
    expect(gate.check(0, next, 0.005, next - 0.2299)).toBeNull()
    expect(gate.check(0, next, 0.005, next - 0.2301)).toMatchObject({
      quantity: 'setpoint away from the joint',
      limit: 0.2,
    })
    // A joint that is ahead of its setpoint is not where it goes to.
    expect(gate.check(0, next, 0.005, next + 0.1999)).toBeNull()
    expect(gate.check(0, next, 0.005, next + 0.2001)).toMatchObject({
      quantity: 'setpoint away from the joint',
    })
  })

  it('a setpoint given twice in motion is told as that, and at rest is none', () => {
    const gate = gateAt(0)
    expect(gate.check(0, 0, 0.001, 0)).toBeNull()
    for (const setpoint of [0.001, 0.003]) gate.accept(0, setpoint)
    expect(gate.check(0, 0.003, 0.001, 0)).toMatchObject({
      quantity: 'setpoint given twice in motion',
      limit: 50,
    })
    // 0.4 rad/s in one period: 80 rad/s2.
    expect(gate.check(0, 0.003, 0.001, 0)!.value).toBeCloseTo(80, 9)
    expect(gate.check(0, 0.00301, 0.001, 0)).toMatchObject({ quantity: 'setpoint acceleration' })
  })

  // Steps of 50 rad/s2 x (5 ms)2 = 1.25 mrad are the acceleration limit from a standstill, half of that is README's bound.
  it.each([
    [0.00062, []],
    [0.00063, ['setpoint acceleration']],
    [0.00124, ['setpoint acceleration']],
    [0.00126, ['setpoint given twice in motion', 'setpoint acceleration']],
  ])('a period that the driver misses at steps of %f rad, and the step after it', (step, found) => {
    const gate = gateAt(0)
    gate.accept(0, step)
    const course = [1, 1, 3].map((steps) => steps * step)
    const breaches = course.map((setpoint) => {
      const breach = gate.check(0, setpoint, 0.001, setpoint)
      gate.accept(0, setpoint)
      return breach?.quantity
    })
    expect(breaches.filter((quantity) => quantity !== undefined)).toEqual(found)
  })

  it('remembers nothing of a setpoint that was not accepted', () => {
    const gate = gateAt(0)
    gate.check(0, 0.9, 0, 0)
    expect(gate.held(0)).toBe(0)
    expect(gate.check(0, 0.001, 0, 0)).toBeNull()
  })
})
