import { expect, test } from 'vitest'
import { portSpeed, starboardSpeed } from '../../../src/motion/side-speeds.js'

test('surge moves both sides alike, a left turn slows port and speeds starboard', () => {
  expect([portSpeed(0.3, 0, 2), starboardSpeed(0.3, 0, 2)]).toEqual([0.3, 0.3])
  expect([portSpeed(0, 0.2, 2), starboardSpeed(0, 0.2, 2)]).toEqual([-0.2, 0.2])
  expect(portSpeed(0.3, 0.1, 1.4)).toBeCloseTo(0.23, 15)
  expect(starboardSpeed(0.3, 0.1, 1.4)).toBeCloseTo(0.37, 15)
})

test('speeds and yaw are consistent: yaw is the difference over the track, surge the mean', () => {
  const [surge, yaw, track] = [-0.17, 0.43, 1.9]
  const [port, starboard] = [portSpeed(surge, yaw, track), starboardSpeed(surge, yaw, track)]
  expect((starboard - port) / track).toBeCloseTo(yaw, 14)
  expect((starboard + port) / 2).toBeCloseTo(surge, 14)
})

test('a side about which the craft turns stands, whatever rounding makes of the command', () => {
  // 0.1 + 0.2 is not 0.3 in binary (IEEE 754): the difference is 5.6e-17.
  expect(0.1 + 0.2 - 0.3).not.toBe(0)
  expect(portSpeed(0.1 + 0.2, 0.3, 2)).toBe(0)
  expect(starboardSpeed(0.3, -(0.1 + 0.2), 2)).toBe(0)
  expect(portSpeed(0.3, 0.3 * (1 - 1e-9), 2)).toBeCloseTo(3e-10, 15)
})
