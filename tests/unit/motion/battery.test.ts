import { describe, expect, test } from 'vitest'
import { dischargeTime, endurance } from '../../../src/motion/battery.js'

const BATTERY = { capacity: 360_000, rating: 72_000, exponent: 1.2, voltage: 12, usable: 0.5 }
const CRUISE = { power: 54, efficiency: 0.9, speed: 0.8 }

describe('discharge', () => {
  test('an ideal battery gives its charge at any current', () => {
    for (const current of [0.3, 5, 80])
      expect(dischargeTime(current, { ...BATTERY, exponent: 1 })).toBeCloseTo(360_000 / current, 6)
  })

  test('never gives more than the rated charge, and without a step at the rated current', () => {
    expect(1 * dischargeTime(1, BATTERY)).toBe(360_000)
    expect(dischargeTime(5 - 1e-9, BATTERY)).toBeCloseTo(dischargeTime(5 + 1e-9, BATTERY), 3)
    expect(6 * dischargeTime(6, BATTERY)).toBeLessThan(360_000)
  })
})

test('a cruise: 60 W from the battery are 5 A, the rated current, half of 20 h', () => {
  const { current, time, range, energyPerMetre } = endurance(CRUISE, BATTERY)
  expect(current).toBeCloseTo(5, 12)
  expect(time).toBeCloseTo(36_000, 6)
  expect(range).toBeCloseTo(28_800, 6)
  // 75 J/m is 20.8 W h/km
  expect(energyPerMetre).toBeCloseTo(75, 12)
  // Usable charge times voltage is what the way costs.
  expect(energyPerMetre * range).toBeCloseTo(0.5 * 360_000 * 12, 3)
})

test('what is drawn all the time comes on top, and shortens the time', () => {
  // 60 W and 60 W at 12 V are 10 A: half of 20 h (100 / 200)^1.2, as in project check values 10.
  const { drawn, current, time } = endurance({ ...CRUISE, standby: 60 }, BATTERY)
  expect(drawn).toBeCloseTo(120, 12)
  expect(current).toBeCloseTo(10, 12)
  expect((time / 1800).toFixed(4)).toBe('8.7055')
})

test('what the figures rest on stands beside them', () => {
  const { assumptions } = endurance(CRUISE, BATTERY)
  const text = assumptions.join('\n')
  for (const figure of ['54 W', '90 %', '12 V', '0.8 m/s', '50 %', '1.2']) expect(text).toContain(figure)
})

test.each([
  [() => dischargeTime(0, BATTERY), 'current is 0 A; expected more than zero'],
  [() => dischargeTime(1, { ...BATTERY, capacity: -1 }), 'battery.capacity is -1 A s'],
  [() => dischargeTime(1, { ...BATTERY, rating: 0 }), 'battery.rating is 0 s'],
  [() => dischargeTime(1, { ...BATTERY, exponent: 0.9 }), 'battery.exponent is 0.9; expected from 1 to 2'],
  [() => endurance({ ...CRUISE, power: 0 }, BATTERY), 'cruise.power is 0 W'],
  [() => endurance({ ...CRUISE, efficiency: 90 }, BATTERY), 'cruise.efficiency is 90; expected from 0 to 1'],
  [() => endurance({ ...CRUISE, efficiency: 0 }, BATTERY), 'cruise.efficiency is 0'],
  [() => endurance({ ...CRUISE, standby: -1 }, BATTERY), 'battery.standby is -1 W'],
  [() => endurance({ ...CRUISE, speed: Number.NaN }, BATTERY), 'cruise.speed is NaN m/s'],
  [() => endurance(CRUISE, { ...BATTERY, voltage: 0 }), 'battery.voltage is 0 V'],
  [() => endurance(CRUISE, { ...BATTERY, usable: 1.1 }), 'battery.usable is 1.1'],
])('%s: %s', (make, message) => {
  expect(make).toThrow(message)
})
