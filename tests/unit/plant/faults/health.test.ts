/** What drives report of faults that heat them or starve them. Expected values follow from what the catalogue says of each. */
import { expect, it } from 'vitest'
import { VirtualTime } from '../../../../src/clock.js'
import { Ongoing } from '../../../../src/ongoing.js'
import type { FaultyDrive } from '../../../../src/plant/faults/faulty.js'
import { ARM_BEHAVIOUR, JOINT_BEHAVIOUR } from '../../../../src/plant/faults/joint-faults.js'
import { DriveHealth } from '../../../../src/plant/health.js'
import { JointMotion } from '../../../../src/plant/joint.js'
import { Supply } from '../../../../src/plant/supply.js'

const limits = { lower: -1, upper: 1, speed: 1, acceleration: 1, torque: 30 }

/** A drive without power, as far as these faults touch it: 20 degC, 24 V. */
function drive() {
  const time = new VirtualTime()
  const servo = { frequency: 12, damping: 0.8, feedforward: 0.5 }
  const motion = new JointMotion({ limits, servo, start: 0, sag: 0, brakes: true })
  const supply = new Supply({ voltage: 24, resistance: 0.05 })
  const health = new DriveHealth({ rating: null, limits }, 20, motion, supply)
  const trips: number[] = []
  const faulty = { scheduler: time, own: { motion }, health, trip: (code: number) => trips.push(code) }
  return { time, health, trips, faulty: faulty as unknown as FaultyDrive }
}

it('hot: 100 K on top by the time that it trips, evenly; gone when it is over', () => {
  const { time, health, trips, faulty } = drive()
  const ongoing = new Ongoing()
  const told = () => health.now('temperature', time.now())
  JOINT_BEHAVIOUR.hot(faulty, true, 2, ongoing, 0)
  time.runUntil(time.now() + 1e9)
  expect(told()).toBeCloseTo(70, 6)
  time.runUntil(time.now() + 0.99e9)
  expect([trips, told()]).toEqual([[], expect.closeTo(119.5, 6)])
  time.runUntil(time.now() + 0.02e9)
  expect(trips).toEqual([0x4310])
  expect(told()).toBeCloseTo(120, 6)
  JOINT_BEHAVIOUR.hot(faulty, false, 2, ongoing, time.now())
  expect(told()).toBeCloseTo(20, 6)
})

it('supply-sagging: what is left of the supply is what it reports', () => {
  const { health, trips, faulty } = drive()
  const ongoing = new Ongoing()
  ARM_BEHAVIOUR['supply-sagging'](faulty, true, 0.75, ongoing, 0)
  expect([health.now('voltage', 0), trips]).toEqual([18, []])
  ARM_BEHAVIOUR['supply-sagging'](faulty, true, 0.5, ongoing, 0)
  expect([health.now('voltage', 0), trips]).toEqual([12, [0x3220]])
  ARM_BEHAVIOUR['supply-sagging'](faulty, false, 0.5, ongoing, 0)
  expect(health.now('voltage', 0)).toBe(24)
})
