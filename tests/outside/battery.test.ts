/** The battery against Peukert's law, project check values 10 (closed form). */
import { expect, test } from 'vitest'
import { dischargeTime } from '../../src/motion/battery.js'

const HOUR = 3600

// C 100 A h, H 20 h, k 1.2
test.each([
  [5, '20.000'],
  [10, '8.7055'],
  [20, '3.7893'],
])('at %d A it lasts %s h', (current, hours) => {
  const time = dischargeTime(current, { capacity: 100 * HOUR, rating: 20 * HOUR, exponent: 1.2 })
  expect((time / HOUR).toFixed(hours.split('.')[1]!.length)).toBe(hours)
})
